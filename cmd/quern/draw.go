package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"quern/detect"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/session"
)

func drawCommand(e env) *cobra.Command {
	var out, lab string
	var run int
	c := &cobra.Command{
		Use:   "draw SESSION --out FILE.png|FILE.svg",
		Short: "Draw a session: level, current, mass, and the ribbon of the motor's states",
		Long: `Analyses a session and draws it over one time axis: A-weighted level, RMS current, mass, and the
ribbon, whose thickness and pattern tell the motor's state, with the events in words.`,
		Example: "  quern draw sessions/2026-03-01-unit-a --out unit-a.png\n  quern draw SESSION --run 2 --out run2.svg",
		Args:    arguments(cobra.ExactArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			format := strings.TrimPrefix(strings.ToLower(filepath.Ext(out)), ".")
			if format != "png" && format != "svg" {
				return usageError{fmt.Errorf("draw: found --out %q, expected a name that ends in .png or .svg", out)}
			}
			ses, err := session.Open(args[0])
			if err != nil {
				return usageError{err}
			}
			var level, top, current, mass report.Thin
			extra := map[rig.Channel]*report.Thin{}
			res, err := analyse(e, ses, lab, detect.Trace{
				Level:   func(at, la, lf float64) { level.Add(at, la); top.Add(at, lf) },
				Current: current.Add,
				Mass:    mass.Add,
				Extra: func(c rig.Channel, at, v float64) {
					if extra[c] == nil {
						extra[c] = &report.Thin{}
					}
					extra[c].Add(at, v)
				},
			})
			if err != nil {
				return err
			}
			if run < 0 || run > len(res.Runs) {
				want := fmt.Sprintf("1 to %d, or 0 for the whole session", len(res.Runs))
				switch len(res.Runs) {
				case 0:
					want = "0: the session holds no run"
				case 1:
					want = "1, or 0 for the whole session"
				}
				return usageError{fmt.Errorf("draw: found --run %d, expected %s", run, want)}
			}
			var more []report.Extra
			for _, s := range ses.Manifest().Streams {
				if s.Form == rig.Value && extra[s.Channel] != nil {
					more = append(more, report.Extra{Name: string(s.Channel), Unit: string(s.Unit), Series: extra[s.Channel].Series()})
				}
			}
			return writeOver(out, func(w io.Writer) error {
				return report.Draw(w, format, report.Picture{Result: res, Run: run - 1, Level: level.Series(), LevelMax: top.Series(),
					Current: current.Series(), Mass: mass.Series(), Extra: more, LimitS: ses.Setup().Procedure.TimeLimitS})
			})
		},
	}
	c.Flags().StringVar(&out, "out", "", "the picture's file; its ending says the format, .png or .svg")
	c.Flags().IntVar(&run, "run", 0, "draw only this run, from 1 (0: the whole session)")
	c.Flags().StringVar(&lab, "lab", "", "use the present settings of this lab folder instead of the stored ones")
	return c
}
