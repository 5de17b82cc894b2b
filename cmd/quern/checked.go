package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"quern/config"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/session"
)

func checkedCommand(e env) *cobra.Command {
	p := person{e: e}
	var k rig.Check
	var kind string
	var nominal, found float64
	c := &cobra.Command{
		Use:   "checked SESSION --kind KIND --found VALUE [--nominal VALUE]",
		Short: "Put a check of the day on record: calibrator, check weight, known load, supply, water",
		Long: `Appends a check to a sealed session of the day. A procedure's [checks] say which the day needs; a run of a day
without one carries a remark.

  kind     unit
  sound    dB, of a calibrator on the microphone
  scale    g, of a check weight
  clamp    A, of a known load
  supply   V, at the socket
  water    L/min, by weighing what half a minute gives`,
		Example: "  quern checked sessions/S --kind sound --nominal 94.0 --found 93.9 --who ann",
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			k.Kind, k.Who = rig.CheckKind(kind), p.who
			if !slices.Contains(rig.CheckKinds, k.Kind) {
				return usageError{fmt.Errorf("checked: found --kind %q, expected one of %s", kind, listed(rig.CheckKinds))}
			}
			if !c.Flags().Changed("found") {
				return usageError{fmt.Errorf("checked: --found is missing: what the instrument showed")}
			}
			for _, n := range []struct {
				flag string
				v    float64
			}{{"found", found}, {"nominal", nominal}} {
				if err := sound("checked", n.flag, n.v, -rig.MostNumber, rig.MostNumber); err != nil {
					return err
				}
			}
			k.Found = rig.Fig(found)
			if c.Flags().Changed("nominal") {
				k.Nominal = rig.Fig(nominal)
			}
			var b config.Bench // of the session: by it a check is told
			if s, err := session.Open(args[0]); err == nil {
				b = s.Setup().Bench
			}
			return p.amend(args[0], report.CheckWords(k, &b), nil, func(a *session.Amendments, atS float64) (int, error) {
				k.AtS = atS
				return a.AppendCheck(k)
			})
		},
	}
	p.flags(c)
	f := c.Flags()
	f.StringVar(&kind, "kind", "", "what was checked")
	f.Float64Var(&nominal, "nominal", 0, "what it should have shown")
	f.Float64Var(&found, "found", 0, "what it showed")
	f.StringVar(&k.Note, "note", "", "what else is to be said")
	return c
}
