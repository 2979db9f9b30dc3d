package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"plumbline/dashboards"
)

func newDashboards(g *global) *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "dashboards DIR",
		Short: "Write Grafana boards, Prometheus rules and what provisions them",
		Long: "dashboards writes into the folder DIR: boards for Grafana, recording and alerting rules for Prometheus, configurations\n" +
			"for Prometheus (in a vehicle, as an agent, for a fleet) and Alertmanager, provisioning files, and the runbooks that alarms\n" +
			"point to. DIR/README.md says what goes where. A folder that holds something is left alone unless --force is given.",
		Example: "  plumbline dashboards boards",
		Args:    exactly(1, "one folder"),
		RunE: func(_ *cobra.Command, args []string) error {
			if entries, err := os.ReadDir(args[0]); err == nil && len(entries) > 0 && !force {
				return fmt.Errorf("%s is not empty: name another folder, or add --force to replace files of the same name", args[0])
			}
			files, err := dashboards.Write(args[0])
			if err != nil {
				return err
			}
			for _, f := range files {
				fmt.Fprintln(g.out, f.Name)
			}
			fmt.Fprintf(g.err, "plumbline: %d files; begin with %s/README.md\n", len(files), args[0])
			return nil
		},
	}
	c.Flags().BoolVar(&force, "force", false, "write into a folder that is not empty")
	return c
}
