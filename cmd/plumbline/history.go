package main

import (
	"fmt"
	"io"
	"os"
	"strconv"

	"github.com/spf13/cobra"

	"plumbline/daemon"
	"plumbline/daemon/history"
	"plumbline/daemon/report"
	"plumbline/daemon/setup"
)

func newHistory(g *global) *cobra.Command {
	var format, serial string
	var files []string
	c := &cobra.Command{
		Use:   "history DIR",
		Short: "Show a transducer's zero and weight over months",
		Long: "history reads all results in a folder and below it (the folders of signed tests, and what plumbline\n" +
			"replay --format json has written) and shows zero and weight of each transducer by its serial number,\n" +
			"wherever it was mounted, with the drift per month. A file that cannot be read is reported, the others\n" +
			"are shown all the same.\n\n" +
			"Exit codes: 0 all was read, 2 the command line is wrong, 3 nothing was found or a file could not be used.",
		Example: "  plumbline history tests\n" +
			"  plumbline history tests --serial 40117 -o 40117.html",
		Args: exactly(1, "one folder"),
		RunE: func(_ *cobra.Command, args []string) error {
			outs, err := chosen(format, files, comparisonFormats())
			if err != nil {
				return err
			}
			var only *uint64
			if serial != "" {
				n, err := strconv.ParseUint(serial, 10, 64)
				if err != nil {
					return fmt.Errorf("--serial %q: expected a serial number, as in 40117", serial)
				}
				only = &n
			}
			if info, err := os.Stat(args[0]); err != nil {
				return &exit{daemon.ExitInconclusive, fmt.Errorf("%w: name the folder of the results", setup.Located(args[0], err))}
			} else if !info.IsDir() {
				return fmt.Errorf("%s is a file: name the folder of the results", args[0])
			}
			h, err := history.Read(os.DirFS(args[0]), args[0], program(), only)
			if err != nil {
				return &exit{daemon.ExitInconclusive, err}
			}
			err = outs.each(g, func(w io.Writer, format string, style report.Style) error {
				switch format {
				case formatJSON:
					return h.Encode(w)
				case formatHTML:
					return report.HistoryHTML(w, &h)
				}
				return report.HistoryText(w, &h, style)
			})
			if err != nil {
				return err
			}
			return verdict(h.ExitCode())
		},
	}
	addOutputs(c, &format, &files, comparisonFormats())
	c.Flags().StringVar(&serial, "serial", "", "show the transducer of serial number `N` alone")
	return c
}
