package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"quern/config"
	"quern/rig"
)

func rateCommand(e env) *cobra.Command {
	var v rig.HandValue
	var lab string
	c := &cobra.Command{
		Use:   "rate --lab LAB --unit UNIT --name NAME --value VALUE --note NOTE",
		Short: "Enter by hand what no instrument measures: build, installation, price",
		Long: `Adds a line to hand.csv in the lab folder. Earlier lines stay; the last one of a unit and name counts. NAME is that of
a criterion with measure = "hand.NAME" in scorecard.toml.`,
		Example: `  quern rate --lab LAB --unit unit-a --name build --value 7.5 --note "solid housing, loose collar" --who ann`,
		Args:    arguments(cobra.NoArgs),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := readLab(e, lab)
			if err != nil {
				return err
			}
			if err := l.HandNamed(v.Unit, v.Name); err != nil {
				return usageError{config.In(lab, err)}
			}
			if !c.Flags().Changed("value") || math.IsNaN(v.Value) || math.IsInf(v.Value, 0) || !(v.U >= 0) || math.IsInf(v.U, 0) {
				return usageError{fmt.Errorf("rate: found --value %g --u %g, expected a number, and 0 or more", v.Value, v.U)}
			}
			if v.Who == "" {
				return usageError{fmt.Errorf("rate: --who says who judged it; it is missing")}
			}
			if _, err := l.ReadHand(labFS(lab)); err != nil { // a line added to a broken file would be lost
				return usageError{config.In(lab, err)}
			}
			if err := v.Check(); err != nil {
				return usageError{fmt.Errorf("rate: %w", err)}
			}
			v.At = e.now()
			name := filepath.Join(lab, config.HandFile)
			if err := appendHand(name, v); err != nil {
				return err
			}
			fmt.Fprintf(e.out, "%s: %s of %s is now %g\n", name, v.Name, v.Unit, v.Value)
			for _, k := range l.Scorecard.Criteria {
				if k.Measure != rig.HandMeasure+v.Name {
					continue
				}
				least, most := 0.0, 10.0 // without a curve the value is its own points
				if n := len(k.Curve); n > 0 {
					least, most = k.Curve[0].At, k.Curve[n-1].At
				}
				if v.Value < least || v.Value > most {
					fmt.Fprintf(e.err, "quern: rate: found %g, but %s is judged from %g to %g: if that was a slip, rate it again; the last value counts\n", v.Value, k.ID, least, most)
				}
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&lab, "lab", "", "the lab folder")
	f.StringVar(&v.Unit, "unit", "", "the unit")
	f.StringVar(&v.Name, "name", "", "what was judged")
	f.Float64Var(&v.Value, "value", 0, "the value")
	f.Float64Var(&v.U, "u", 0, "its standard uncertainty")
	f.StringVar(&v.Note, "note", "", "why, for the reader")
	f.StringVar(&v.Who, "who", os.Getenv("USER"), "who judged it")
	return c
}

// appendHand adds a line to the file, and the header to a new one.
func appendHand(name string, v rig.HandValue) error {
	f, err := os.OpenFile(name, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return usageError{rig.Unopened(name, err, "a file that can be written to", "look at its permissions")}
	}
	text := config.HandLine(v)
	if info, err := f.Stat(); err == nil && info.Size() == 0 {
		text = config.HandHeader() + text
	}
	_, err = f.WriteString(text)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}
