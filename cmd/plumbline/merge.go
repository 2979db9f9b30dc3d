package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"plumbline/daemon"
	"plumbline/daemon/archive"
)

func newMerge(g *global) *cobra.Command {
	var format string
	var files []string
	known := slices.DeleteFunc(formats(), func(f string) bool { return f == formatHTML || f == formatLines })
	c := &cobra.Command{
		Use:   "merge SHARD...",
		Short: "Put the results of several machines together",
		Long: "merge reads the .jsonl files that replay --shard K/N has written on each of N machines, and writes what one\n" +
			"machine would have written, byte for byte. SHARD may be a pattern in quotes. A shard that is missing, was cut off\n" +
			"or saw another archive is named, and nothing is written. The exit code is that of all results.",
		Example: "  plumbline merge 'shards/*.jsonl' -o results.xml -o results.json",
		Args:    atLeast(1, "the .jsonl files of all shards"),
		RunE: func(_ *cobra.Command, args []string) error {
			return merge(g, args, format, files, known)
		},
	}
	addOutputs(c, &format, &files, known)
	return c
}

func merge(g *global, args []string, format string, files, known []string) error {
	outs, err := chosen(format, files, known)
	if err != nil {
		return err
	}
	var shards []string
	for _, arg := range args {
		found, err := filepath.Glob(arg)
		if err != nil || len(found) == 0 {
			found = []string{arg} // what is wrong with it is told when it is opened
		}
		for _, file := range found {
			if !slices.Contains(shards, file) {
				shards = append(shards, file)
			}
		}
	}
	results, err := archive.Open(shards)
	if err != nil {
		return &exit{daemon.ExitInconclusive, fmt.Errorf("cannot merge: %w", err)}
	}
	defer outs.discard()
	if err := outs.create(g); err != nil {
		return err
	}
	names := results.Names()
	sheets, err := archive.NewSheets(&results.About, names, outs.sheets(g, len(names) > 1))
	if err != nil {
		return err
	}
	if err = results.Each(sheets.Add); err == nil {
		err = sheets.Write()
	}
	if err = errors.Join(err, sheets.Close()); err != nil {
		return err
	}
	if err := outs.commit(); err != nil {
		return err
	}
	return verdict(exitOf(sheets.Rows()))
}
