package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"quern/rig/report"
	"quern/rig/score"
)

func scoreCommand(e env) *cobra.Command {
	k := campaign{e: e, own: true}
	var unit string
	c := &cobra.Command{
		Use:   "score --lab LAB SESSIONS... | SESSION",
		Short: "Measure, judge and score runs: gates, points, and what is to be said of each",
		Long: `Scores the sessions of the folders, or one session, under the lab's procedures and scorecard, and prints for each
unit its tests with their runs, gates, criteria and points. A session by itself is judged at once, so that what is
too close to call can be weighed again while the leftovers exist; of the sessions beside it in its folder the checks of
the day count, and nothing else.

Without --lab one session is judged by the gates that it keeps, those of the day it was recorded, whatever the lab says
today. Points take a scorecard, which no session holds.`,
		Example: "  quern score --lab LAB sessions --unit unit-a\n  quern score --lab LAB sessions/20260301-101500-unit-a\n  quern score sessions/20260301-101500-unit-a      by the rules of then",
		Args:    arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			camp, err := k.read(k.lab, args)
			if err != nil {
				return err
			}
			units, err := chosen(camp, unit)
			if err != nil {
				return err
			}
			if k.asJSON {
				return report.UnitsJSON(e.out, camp, units, k.today(), k.sums(camp))
			}
			if len(camp.Runs) > 0 && alone(camp) {
				if err := printRuns(e, camp); err != nil || !k.ownRules(k.lab, args) {
					return err
				}
				fmt.Fprintln(e.out, "\njudged by the procedure kept in the session")
				return k.printSums(camp)
			}
			if err := report.Units(e.out, camp, units, k.today()); err != nil {
				return err
			}
			for _, l := range camp.Loose {
				fmt.Fprintf(e.out, "session %s is left out: %s\n", l.Session, l.Why)
			}
			return k.printSums(camp)
		},
	}
	k.flags(c)
	c.Flags().StringVar(&unit, "unit", "", "only this unit")
	return c
}

// chosen returns the units to print: one, or all.
func chosen(c *score.Campaign, id string) ([]*score.Unit, error) {
	if id != "" {
		u := c.Unit(id)
		if u == nil {
			return nil, usageError{fmt.Errorf("found unit %q, expected one of %s: of units.toml, but not the bench's control", id, strings.Join(ids(c), ", "))}
		}
		return []*score.Unit{u}, nil
	}
	return c.Units, nil
}

// ids are the codes of the units that are scored.
func ids(c *score.Campaign) []string {
	out := make([]string, len(c.Units))
	for i, u := range c.Units {
		out[i] = u.Unit.ID
	}
	return out
}

// alone tells whether all runs are of one session.
func alone(c *score.Campaign) bool {
	for _, r := range c.Runs {
		if r.Record.Session != c.Runs[0].Record.Session {
			return false
		}
	}
	return true
}

func printRuns(e env, c *score.Campaign) error {
	for _, r := range c.Runs {
		if err := report.Run(e.out, r); err != nil {
			return err
		}
	}
	return nil
}
