package main

import (
	"errors"
	"fmt"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
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

// amend opens a sealed session for adding a fact, and says in words what is on record; atS is now, in seconds of the
// session. sense, if any, sees what is on record already.
func (p *person) amend(dir, words string, sense func(rig.Facts) error, add func(a *session.Amendments, atS float64) (int, error)) (err error) {
	if p.who == "" {
		return usageError{errors.New("--who is missing: who puts it on record, such as --who ann; without it the login name (USER) would stand there")}
	}
	if p.run < 0 {
		return usageError{fmt.Errorf("found --run %d, expected 1 or more", p.run)}
	}
	b, err := session.OpenFacts(dir)
	if err != nil {
		return usageError{err}
	}
	if n, ok := runsOf(dir); ok && p.run > n {
		return usageError{fmt.Errorf("%s: found --run %d, expected at most %d: see its runs with 'quern replay %s'", dir, p.run, n, dir)}
	}
	if sense != nil {
		if err := sense(b.Facts); err != nil {
			return usageError{fmt.Errorf("%s: %w", dir, err)}
		}
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
	fmt.Fprintf(p.e.out, "%s: fact %d on record: %s\n", dir, fact, words)
	return nil
}

// runsOf returns how many runs a session was last found to hold; false: it was not analysed yet.
func runsOf(dir string) (n int, ok bool) {
	all, err := session.Analyses(dir)
	if err != nil {
		return 0, false // what is wrong with them is told by verify
	}
	for _, a := range all {
		n = max(n, len(a.Result.Runs))
	}
	return n, len(all) > 0
}

// sound refuses a number that an option cannot mean.
func sound(verb, flag string, v, least, most float64) error {
	if !(v >= least && v <= most) {
		return usageError{fmt.Errorf("%s: found --%s %g, expected %.0f to %.0f", verb, flag, v, least, most)}
	}
	return nil
}

func weighCommand(e env) *cobra.Command {
	p := person{e: e}
	var w rig.Weighing
	var role, lab string
	var typed typedMasses
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
				return usageError{fmt.Errorf("weigh: found --role %q, expected one of %s", role, listed(rig.Roles))}
			}
			if err := typed.take(c, &w); err != nil {
				return err
			}
			if lab != "" { // what is wrong with it is told before anything is on record
				if _, err := readLab(e, lab); err != nil {
					return err
				}
			}
			var again []string // what is to be looked at again
			sense := func(f rig.Facts) error {
				set, err := judgedBy(e, lab, args[0])
				if err == nil {
					again = score.Typed(set, f.Weighings, w)
				}
				return err
			}
			if err := p.amend(args[0], weighed(w), sense, func(a *session.Amendments, atS float64) (int, error) {
				w.AtS = atS
				return a.AppendWeighing(w)
			}); err != nil {
				return err
			}
			for _, s := range again {
				fmt.Fprintln(e.err, "quern: weigh:", s)
			}
			return judged(e, lab, args[0])
		},
	}
	p.flags(c)
	f := c.Flags()
	f.StringVar(&role, "role", "", "what was weighed")
	f.StringVar(&w.Item, "item", "", "which ingredient of the charge")
	f.StringVar(&w.Vessel, "vessel", "", "in which vessel of the register")
	f.Float64Var(&typed.gross, "gross", 0, "with the vessel")
	f.Float64Var(&typed.tare, "tare", 0, "the vessel alone")
	f.Float64Var(&typed.net, "net", 0, "without the vessel")
	f.StringVar(&w.Shown, "unit", "g", "unit of the display: g, kg, oz, lb")
	f.Float64Var(&typed.drained, "drained", 0, "seconds it had drained")
	f.StringVar(&w.Note, "note", "", "what else is to be said")
	f.StringVar(&lab, "lab", "", "judge the run at once under this lab folder")
	return c
}

// typedMasses is what was typed in: masses in the display's unit, and how long it drained, s.
type typedMasses struct{ gross, tare, net, drained float64 }

// take puts it into a weighing, in grams, or says what cannot be meant.
func (m typedMasses) take(c *cobra.Command, w *rig.Weighing) error {
	for _, x := range []struct {
		flag string
		v    float64
		to   *rig.Figure
	}{{"gross", m.gross, &w.GrossG}, {"tare", m.tare, &w.TareG}, {"net", m.net, &w.NetG}} {
		if !c.Flags().Changed(x.flag) {
			continue
		}
		g, err := gum.Grams(x.v, w.Shown)
		if err != nil {
			return usageError{fmt.Errorf("weigh: --%s, --unit: %w", x.flag, err)}
		}
		if err := sound("weigh", x.flag, g, -rig.MostMassG, rig.MostMassG); err != nil {
			return err
		}
		*x.to = rig.Fig(g)
	}
	if w.GrossG.OK && w.NetG.OK || w.TareG.OK && !w.GrossG.OK {
		return usageError{errors.New("weigh: found --net beside --gross or --tare, expected either --net, or --gross and perhaps --tare: a net mass has no vessel in it")}
	}
	if w.Item != "" && w.Role != rig.Charge {
		return usageError{fmt.Errorf("weigh: found --item %q with --role %s, expected --role charge: only the charge has ingredients", w.Item, w.Role)}
	}
	if !w.GrossG.OK && !w.NetG.OK {
		return usageError{errors.New("weigh: --gross or --net is missing")}
	}
	if c.Flags().Changed("drained") {
		if err := sound("weigh", "drained", m.drained, 0, rig.MostAtS); err != nil {
			return err
		}
		w.DrainedS = rig.Fig(m.drained)
	}
	return nil
}

// judgedBy returns the settings that a session is judged by: those of the lab, where one is named that knows its unit and
// procedure, or its own.
func judgedBy(e env, lab, dir string) (config.Setup, error) {
	s, err := session.Open(dir)
	if err != nil {
		return config.Setup{}, err
	}
	if lab == "" {
		return s.Setup(), nil
	}
	l, err := readLab(e, lab)
	if err != nil {
		return config.Setup{}, err
	}
	if set, err := l.Setup(s.Setup().Unit.ID, s.Setup().Procedure.ID); err == nil {
		return set, nil
	}
	return s.Setup(), nil
}

// weighed says in words what was weighed; masses are in grams whatever the display's unit was.
func weighed(w rig.Weighing) string {
	words := string(w.Role)
	if w.Item != "" {
		words += " " + w.Item
	}
	if w.NetG.OK {
		words += fmt.Sprintf(", %g g net", w.NetG.V)
	} else {
		words += fmt.Sprintf(", %g g gross", w.GrossG.V)
	}
	if w.Vessel != "" {
		words += " in " + w.Vessel
	}
	return words
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
