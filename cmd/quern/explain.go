package main

import (
	"github.com/spf13/cobra"

	"quern/rig/report"
)

func explainCommand(e env) *cobra.Command {
	k := campaign{e: e, own: true}
	c := &cobra.Command{
		Use:   "explain UNIT --lab LAB SESSIONS...",
		Short: "Trace every number of a unit to its weighings, events and settings",
		Long: `Prints the unit's total as the sum that it is, every criterion with the stretch of the curve its points come from,
every gate with its uncertainty, and under each measure the weighings, events and corrections it was made of, with
the checksums of rules, settings and sessions. Without --lab a SESSION by itself is explained by the procedure that it keeps.`,
		Example: "  quern explain unit-a --lab LAB sessions\n  quern explain unit-a sessions/20260301-101500-unit-a",
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
