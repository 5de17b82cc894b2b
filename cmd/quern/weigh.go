package main

import (
	"errors"
	"fmt"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"quern/rig"
	"quern/rig/score/gum"
	"quern/rig/session"
)

// person is who puts something on record, and where.
type person struct {
	e   env
	who string
	run int
}

func (p *person) flags(c *cobra.Command) {
	c.Flags().StringVar(&p.who, "who", os.Getenv("USER"), "who says so")
	c.Flags().IntVar(&p.run, "run", 0, "which run of the session, from 1 (default: its only one, or all)")
}

// amend opens a sealed session for adding facts; atS is now, in seconds of the session.
func (p *person) amend(dir string, add func(a *session.Amendments, atS float64) (int, error)) (err error) {
	if p.who == "" {
		return usageError{errors.New("--who says who puts it on record; it is missing")}
	}
	if p.run < 0 {
		return usageError{fmt.Errorf("found --run %d, expected 1 or more", p.run)}
	}
	b, err := session.OpenFacts(dir)
	if err != nil {
		return usageError{err}
	}
	now := p.e.now()
	a, err := session.Amend(dir, "quern "+version(), now)
	if err != nil {
		return usageError{err}
	}
	fact, err := add(a, now.Sub(b.Manifest.Started).Seconds())
	if err != nil {
		return usageError{errors.Join(err, a.Abandon())}
	}
	if err := a.Close(); err != nil {
		return err
	}
	fmt.Fprintf(p.e.out, "%s: fact %d on record\n", dir, fact)
	return nil
}

func weighCommand(e env) *cobra.Command {
	p := person{e: e}
	var w rig.Weighing
	var role, lab string
	var gross, tare, net, drained float64
	c := &cobra.Command{
		Use:   "weigh SESSION --role ROLE (--net MASS | --gross MASS [--tare MASS])",
		Short: "Put a mass on record that was read from a display",
		Long: `Adds a weighing to a sealed session, marked as typed. It is appended: an earlier weighing of the same role stays, and
the last one counts. Without --tare the register of vessels in bench.toml gives the tare. While a session is being
recorded, 'quern act weigh' takes what the scale on the bench shows. With --lab the run is judged at once.

Roles: charge (with --item for one ingredient), chamber, coarse, fine, passed, empty.`,
		Example: `  quern weigh sessions/S --role charge --item carrot --net 503 --who ann
  quern weigh sessions/S --role coarse --vessel sieve-coarse --gross 371 --drained 120 --lab LAB`,
		Args: arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			w.Role, w.Run, w.Who, w.Typed = rig.Role(role), p.run, p.who, true
			if !slices.Contains(rig.Roles, w.Role) {
				return usageError{fmt.Errorf("weigh: found --role %q, expected one of %q", role, rig.Roles)}
			}
			for _, m := range []struct {
				flag string
				v    float64
				to   *rig.Figure
			}{{"gross", gross, &w.GrossG}, {"tare", tare, &w.TareG}, {"net", net, &w.NetG}} {
				if !c.Flags().Changed(m.flag) {
					continue
				}
				g, err := gum.Grams(m.v, w.Shown)
				if err != nil {
					return usageError{fmt.Errorf("weigh: --unit: %w", err)}
				}
				*m.to = rig.Fig(g)
			}
			if !w.GrossG.OK && !w.NetG.OK {
				return usageError{errors.New("weigh: --gross or --net is missing")}
			}
			if c.Flags().Changed("drained") {
				w.DrainedS = rig.Fig(drained)
			}
			if err := p.amend(args[0], func(a *session.Amendments, atS float64) (int, error) {
				w.AtS = atS
				return a.AppendWeighing(w)
			}); err != nil {
				return err
			}
			return judged(e, lab, args[0])
		},
	}
	p.flags(c)
	f := c.Flags()
	f.StringVar(&role, "role", "", "what was weighed")
	f.StringVar(&w.Item, "item", "", "which ingredient of the charge")
	f.StringVar(&w.Vessel, "vessel", "", "in which vessel of the register")
	f.Float64Var(&gross, "gross", 0, "with the vessel")
	f.Float64Var(&tare, "tare", 0, "the vessel alone")
	f.Float64Var(&net, "net", 0, "without the vessel")
	f.StringVar(&w.Shown, "unit", "g", "unit of the display: g, kg, oz, lb")
	f.Float64Var(&drained, "drained", 0, "seconds it had drained")
	f.StringVar(&w.Note, "note", "", "what else is to be said")
	f.StringVar(&lab, "lab", "", "judge the run at once under this lab folder")
	return c
}

// judged prints what a session comes to under a lab; nothing without one.
func judged(e env, lab, dir string) error {
	if lab == "" {
		return nil
	}
	k := campaign{e: e, settings: "stored", noIndex: true}
	c, err := k.read(lab, []string{dir})
	if err != nil {
		return err
	}
	return printRuns(e, c)
}
