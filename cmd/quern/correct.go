package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"quern/rig"
	"quern/rig/session"
)

func correctCommand(e env) *cobra.Command {
	p := person{e: e}
	var k rig.Correction
	var u float64
	var lab string
	c := &cobra.Command{
		Use:   "correct SESSION --target TARGET --new VALUE --why REASON",
		Short: "Say something against what was recorded or computed; nothing is rewritten",
		Long: `Appends a correction to a sealed session, with who, when and why. What it corrects stays and is shown beside it.

  target              new
  unit, procedure     the id that should have been chosen
  kind                scored, conditioning, control or unplanned
  void                rig or operator: the run is repeated and costs nobody points; no: it counts after all
  failed              a reason: the unit could not do it; no: taken back
  weighing.3          a net mass in grams, or withdrawn; 3 is the weighing's number
  check.3             withdrawn: the check does not count; counts: it does after all
  measure.run_time_s  a value in the measure's unit, or absent (also for values taken by hand)`,
		Example: `  quern correct sessions/S --target void --new rig --why "the tap was forgotten" --who ann
  quern correct sessions/S --target measure.trips --new 0 --why "I switched it off" --who ann
  quern correct sessions/S --target weighing.7 --new 41.5 --why "read the wrong line" --who ann`,
		Args: arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			k.Run, k.Who = p.run, p.who
			if c.Flags().Changed("u") {
				if err := sound("correct", "u", u, 0, rig.MostNumber); err != nil {
					return err
				}
				k.U = rig.Fig(u)
			}
			if err := k.Check(); err != nil {
				return usageError{fmt.Errorf("correct: %w", err)}
			}
			if k.Why == "" {
				return usageError{errors.New("correct: --why is missing: a correction without a reason is none")}
			}
			if lab != "" {
				l, err := readLab(e, lab)
				if err != nil {
					return err
				}
				if err := l.Names(k.Target, k.New); err != nil {
					return usageError{fmt.Errorf("correct: %w", err)}
				}
			}
			if err := p.amend(args[0], k.Target+" is now "+k.New, named(k.Target), func(a *session.Amendments, _ float64) (int, error) {
				k.At = e.now()
				return a.AppendCorrection(k)
			}); err != nil {
				return err
			}
			return judged(e, lab, args[0])
		},
	}
	p.flags(c)
	f := c.Flags()
	f.StringVar(&k.Target, "target", "", "what is corrected")
	f.StringVar(&k.New, "new", "", "what should stand there")
	f.StringVar(&k.Old, "old", "", "what stood there, as it was shown")
	f.StringVar(&k.Why, "why", "", "the reason")
	f.Float64Var(&u, "u", 0, "standard uncertainty of a measure, in its unit (default: that of a hand and a hand-held meter)")
	f.StringVar(&lab, "lab", "", "judge the run at once under this lab folder")
	return c
}

// named sees that a weighing or a check which is corrected is on record.
func named(target string) func(rig.Facts) error {
	return func(f rig.Facts) error {
		what, number, _ := strings.Cut(target, ".")
		var have []string
		make := "weigh it with 'quern weigh'"
		switch what {
		case "weighing":
			for _, w := range f.Weighings {
				have = append(have, strconv.Itoa(w.Fact))
			}
		case "check":
			make = "put it on record with 'quern checked'"
			for _, k := range f.Checks {
				have = append(have, strconv.Itoa(k.Fact))
			}
		default:
			return nil
		}
		switch {
		case slices.Contains(have, number):
			return nil
		case len(have) == 0:
			return fmt.Errorf("found no %s at all, expected %s %s: %s", what, what, number, make)
		}
		return fmt.Errorf("found no %s %s, expected one of %s", what, number, strings.Join(have, ", "))
	}
}
