package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

func newVersion(g *global) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print version, revision and compiler",
		Args:  exactly(0, "no argument"),
		RunE: func(*cobra.Command, []string) error {
			info, ok := debug.ReadBuildInfo()
			if !ok {
				info = &debug.BuildInfo{}
			}
			_, err := fmt.Fprintln(g.out, versionLine(info))
			return err
		},
	}
}

// program is the name and version that results carry.
func program() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "plumbline (devel)"
	}
	return "plumbline " + info.Main.Version
}

// built returns version and revision of the program; the revision is empty where the build did not know it.
func built() (version, revision string) {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(devel)", ""
	}
	version = info.Main.Version
	if version == "" {
		version = "(devel)"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			revision = s.Value
		}
	}
	return version, revision
}

// versionLine says what was built, from which revision and by which compiler.
func versionLine(info *debug.BuildInfo) string {
	version := info.Main.Version
	if version == "" {
		version = "(devel)"
	}
	line := "plumbline " + version
	settings := map[string]string{}
	for _, s := range info.Settings {
		settings[s.Key] = s.Value
	}
	if revision := settings["vcs.revision"]; revision != "" {
		line += ", revision " + revision
		if when := settings["vcs.time"]; when != "" {
			line += " of " + when
		}
		if settings["vcs.modified"] == "true" {
			line += " with changes"
		}
	}
	return line + ", " + runtime.Version() + " " + runtime.GOOS + "/" + runtime.GOARCH
}
