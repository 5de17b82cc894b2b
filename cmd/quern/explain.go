package main

import (
	"github.com/spf13/cobra"

	"quern/rig/report"
)

func explainCommand(e env) *cobra.Command {
	k := campaign{e: e}
	c := &cobra.Command{
		Use:   "explain UNIT --lab LAB SESSIONS...",
		Short: "Trace every number of a unit to its weighings, events and settings",
		Long: `Prints the unit's total as the sum that it is, every criterion with the stretch of the curve its points come from,
every gate with its uncertainty, and under each measure the weighings, events and corrections it was made of, with
the checksums of rules, settings and sessions.`,
		Example: "  quern explain unit-a --lab LAB sessions",
		Args:    arguments(cobra.MinimumNArgs(2)),
		RunE: func(c *cobra.Command, args []string) error {
			camp, err := k.read(k.lab, args[1:])
			if err != nil {
				return err
			}
			units, err := chosen(camp, args[0])
			if err != nil {
				return err
			}
			if k.asJSON {
				return report.UnitsJSON(e.out, camp, units, k.today(), k.sums(camp))
			}
			return report.Explain(e.out, camp, units[0], k.today(), k.sums(camp))
		},
	}
	k.flags(c)
	return c
}
