package main

import (
	"github.com/spf13/cobra"

	"quern/rig/report"
)

func controlCommand(e env) *cobra.Command {
	k := campaign{e: e}
	c := &cobra.Command{
		Use:   "control --lab LAB SESSIONS...",
		Short: "Chart the control runs: has the bench moved?",
		Long: `Charts the runs of the unit and procedure that [control] in bench.toml names. Centre and limits come from the
first of them; a later run outside the limits flags its day, and every run of that day carries a remark.`,
		Example: "  quern control --lab LAB sessions",
		Args:    arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			camp, err := k.read(k.lab, args)
			if err != nil {
				return err
			}
			if k.asJSON {
				return report.ChartsJSON(e.out, camp.Control())
			}
			return report.Charts(e.out, camp.Control())
		},
	}
	k.flags(c)
	return c
}
