package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

// nearCommand is how many letters may be wrong in a word that is still taken for a command.
const nearCommand = 3

// newRoot builds the command line anew; nothing of it is global.
func newRoot(s streams) *cobra.Command {
	g := &global{streams: s}
	root := &cobra.Command{
		Use:   "plumbline",
		Short: "Judge wheel force transducers by what their amplifier sends",
		Long: "plumbline listens to the amplifier of rotating wheel force transducers and says whether each\n" +
			"sensor is alive, on the right corner, at zero and at the right angle. It sends nothing.\n\n" +
			"Exit codes: 0 every check passed, 1 a check failed, 2 the command line or the setup is wrong,\n" +
			"3 not enough data or data that cannot be used.",
		Args:          unknownCommand,
		RunE:          missingCommand,
		SilenceErrors: true,
		SilenceUsage:  true,

		SuggestionsMinimumDistance: nearCommand,
	}
	root.SetIn(s.in)
	root.SetOut(s.out)
	root.SetErr(s.err)
	root.PersistentFlags().Var(&g.colour, "color", "colour the text: auto, always or never")
	complete(root, "color", colourAuto, colourAlways, colourNever)
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return fmt.Errorf("%w: %s --help lists what there is", err, c.CommandPath())
	})
	root.AddCommand(newRun(g), newReplay(g), newMerge(g), newCompare(g), newHistory(g), newDemo(g), newListen(g), newSetup(g), newChecks(g), newMatrix(g), newDashboards(g), newVersion(g))
	return root
}

// unknownCommand is the answer to a word that is no command, with the nearest one.
func unknownCommand(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	text := fmt.Sprintf("unknown command %q", args[0])
	if near := c.SuggestionsFor(args[0]); len(near) > 0 {
		return fmt.Errorf("%s: did you mean %s", text, strings.Join(near, " or "))
	}
	return fmt.Errorf("%s: %s --help lists what there is", text, c.CommandPath())
}

// missingCommand is the answer to no word at all. It is no success: a script
// whose arguments got lost must notice.
func missingCommand(c *cobra.Command, _ []string) error {
	var names []string
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() && sub.Name() != "completion" {
			names = append(names, sub.Name())
		}
	}
	return fmt.Errorf("no command given: expected one of %s; %s --help says more", strings.Join(names, ", "), c.CommandPath())
}

// atLeast asks for arguments, with the usage line where there are too few.
func atLeast(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) < n {
			return fmt.Errorf("%s needs %s: %s", c.Name(), what, usage(c))
		}
		return nil
	}
}

// exactly asks for so many arguments.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return fmt.Errorf("%s takes %s, got %d: %s", c.Name(), what, len(args), usage(c))
		}
		return nil
	}
}

func usage(c *cobra.Command) string { return strings.TrimSuffix(c.UseLine(), " [flags]") }

// complete offers the values of a flag to the shell.
func complete(c *cobra.Command, flag string, values ...string) {
	err := c.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(values, cobra.ShellCompDirectiveNoFileComp))
	if err != nil {
		panic(err) // the flag was defined a line above
	}
}
