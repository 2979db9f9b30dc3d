package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"plumbline/daemon/setup"
)

func newSetup(g *global) *cobra.Command {
	c := &cobra.Command{
		Use:   "setup",
		Short: "Check a setup file, or write a first one",
		Args:  unknownCommand,
		RunE:  missingCommand,

		SuggestionsMinimumDistance: nearCommand,
	}
	c.AddCommand(newSetupNew(g), newSetupCheck(g))
	return c
}

func newSetupNew(g *global) *cobra.Command {
	var (
		files []string
		file  string
	)
	c := &cobra.Command{
		Use:   "new --dbc FILE...",
		Short: "Write a first setup from the signal names in DBC files",
		Long: "new writes a setup from the names and units of signals. What names cannot tell is marked with what to\n" +
			"write there; plumbline setup check then lists what is missing.",
		Example: "  plumbline setup new --dbc wheels.dbc -o minibus.yaml",
		Args:    exactly(0, "no argument beside --dbc"),
		RunE: func(*cobra.Command, []string) error {
			if len(files) == 0 {
				return errors.New("setup new needs at least one DBC file: plumbline setup new --dbc FILE")
			}
			return setupNew(g, files, file)
		},
	}
	c.Flags().StringArrayVar(&files, "dbc", nil, "take names from DBC `FILE`; may be given several times")
	c.Flags().StringVarP(&file, "output", "o", "", "write to `FILE` instead of standard output")
	return c
}

// setupNew writes the setup. An existing file is somebody's work and stays.
func setupNew(g *global, files []string, file string) error {
	toFile := file != "" && file != "-"
	if toFile {
		if _, err := os.Lstat(file); err == nil {
			return fmt.Errorf("%s is there already: name another file, or remove it first", file)
		}
		var err error
		if files, err = relativeTo(filepath.Dir(file), files); err != nil {
			return err
		}
	}
	out, err := create(file, g.out)
	if err != nil {
		return err
	}
	defer out.discard()
	read := func(path string) ([]byte, error) {
		if toFile && !filepath.IsAbs(path) {
			path = filepath.Join(filepath.Dir(file), path)
		}
		text, err := os.ReadFile(path)
		return text, setup.Located(path, err)
	}
	if err := setup.Write(out, files, read); err != nil {
		return err
	}
	if err := out.commit(); err != nil {
		return err
	}
	if toFile {
		fmt.Fprintf(g.err, "plumbline: wrote %s: complete it, then run plumbline setup check %[1]s\n", file)
	}
	return nil
}

// relativeTo returns paths as they read from a folder; absolute ones stay.
func relativeTo(folder string, paths []string) ([]string, error) {
	out := make([]string, len(paths))
	for i, path := range paths {
		if filepath.IsAbs(path) {
			out[i] = path
			continue
		}
		full, err := filepath.Abs(path)
		if err != nil {
			return nil, err
		}
		base, err := filepath.Abs(folder)
		if err != nil {
			return nil, err
		}
		if out[i], err = filepath.Rel(base, full); err != nil {
			return nil, err
		}
		out[i] = filepath.ToSlash(out[i])
	}
	return out, nil
}

func newSetupCheck(g *global) *cobra.Command {
	return &cobra.Command{
		Use:     "check SETUP",
		Short:   "Report every fault of a setup file",
		Example: "  plumbline setup check minibus.yaml",
		Args:    exactly(1, "one setup file"),
		RunE: func(_ *cobra.Command, args []string) error {
			s, err := setup.Load(args[0])
			if err != nil {
				return err
			}
			g.warn(s.Warnings)
			_, err = fmt.Fprintf(g.out, "%s is right: %s, %s, %s, %s on %s\n", args[0], s.Vehicle,
				count(len(s.Checks.Corners), "corner", "corners"), count(len(s.Checks.Optics), "optical sensor", "optical sensors"),
				count(len(s.Checks.Channels), "channel", "channels"), count(len(s.Sources), "source", "sources"))
			return err
		},
	}
}
