package main

import (
	"fmt"
	"net/http"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"quern/rig"
	"quern/rig/live"
)

func actCommand(e env) *cobra.Command {
	var at string
	var ask live.Asked
	var role, kind string
	var tare, nominal, found, u float64
	var asJSON bool
	c := &cobra.Command{
		Use:   "act ACT [TEXT]",
		Short: "Ask the running daemon to begin or end a session, weigh, mark, check, correct, or choose the next unit",
		Long: `Asks the running daemon for one act, and prints what it answers.

  begin, end   a session now; one begins by itself when a motor starts or something is weighed in.
               While the motor runs it is ended by --force only
  mark TEXT    note something at this instant
  choose       --unit, --procedure: what is on the bench next
  weigh        take what the scale shows now: --role, --item, --vessel or --tare; without a role what is expected
  expect       what is weighed next, with the same flags: it is taken by itself once it is on the pan at rest
  drain        leftovers begin to drain now
  tare, zero   press that key of the scale: sends what scale.device.tare or .zero says; while the motor runs with --force only
  undo         withdraw the last weighing of the open session
  check        --kind, --found, --nominal: an instrument compared with what it should show
  void         --cause rig, operator or no, --why: the run does not count
  correct      --target, --new, --why: as 'quern correct' does in a closed session

Roles: charge (with --item for one ingredient), chamber, coarse, fine, passed, empty. What is not ready is refused with
what to do; --force takes it all the same, and says so on record.`,
		Example: `  quern act mark "held back piece is in"
  quern act expect --role charge --item carrot --vessel bowl-1
  quern act weigh --role chamber --vessel bowl-2
  quern act void --cause rig --why "the tap was forgotten"
  quern act end
  quern act choose --unit unit-b --procedure poultry-bones`,
		Args: arguments(cobra.MinimumNArgs(1)),
		RunE: func(c *cobra.Command, args []string) error {
			ask.Act, ask.Text, ask.Role, ask.Kind = live.Act(args[0]), strings.Join(args[1:], " "), rig.Role(role), rig.CheckKind(kind)
			if !slices.Contains(live.Acts, ask.Act) {
				return usageError{fmt.Errorf("act: found %q, expected one of %s", args[0], listed(live.Acts))}
			}
			if ask.Act != live.Mark && len(args) > 1 {
				return usageError{fmt.Errorf("act: %s takes no text; see 'quern act --help'", ask.Act)}
			}
			for _, f := range []struct {
				flag string
				v    float64
				to   *rig.Figure
			}{{"tare", tare, &ask.TareG}, {"nominal", nominal, &ask.Nominal}, {"found", found, &ask.Found}, {"u", u, &ask.U}} {
				if !c.Flags().Changed(f.flag) {
					continue
				}
				if *f.to = rig.Fig(f.v); !f.to.OK {
					return usageError{fmt.Errorf("act: found --%s %g, expected a number", f.flag, f.v)}
				}
			}
			return act(e, at, ask, asJSON)
		},
	}
	f := c.Flags()
	f.StringVar(&at, "at", "127.0.0.1:8750", "address of the daemon")
	f.StringVar(&ask.Who, "who", os.Getenv("USER"), "who does it")
	f.StringVar(&ask.Unit, "unit", "", "with choose: the unit that is on the bench now")
	f.StringVar(&ask.Procedure, "procedure", "", "with choose: the procedure")
	f.StringVar(&role, "role", "", "what is weighed")
	f.StringVar(&ask.Item, "item", "", "which ingredient of the charge")
	f.StringVar(&ask.Vessel, "vessel", "", "in which vessel of the register, or one that was weighed empty")
	f.Float64Var(&tare, "tare", 0, "the vessel alone, grams; 0 if the scale was set to zero with it")
	f.StringVar(&ask.Note, "note", "", "with weigh and check: what else is to be said")
	f.BoolVar(&ask.Force, "force", false, "take it although something speaks against it")
	f.StringVar(&kind, "kind", "", "with check: sound, scale, clamp, supply or water")
	f.Float64Var(&nominal, "nominal", 0, "with check: what it should have shown")
	f.Float64Var(&found, "found", 0, "with check: what it showed")
	f.StringVar(&ask.Cause, "cause", "", "with void: rig, operator, or no: it counts after all")
	f.StringVar(&ask.Target, "target", "", "with correct: what stands otherwise")
	f.StringVar(&ask.New, "new", "", "with correct: what should stand there")
	f.StringVar(&ask.Old, "old", "", "with correct: what stood there, as it was shown")
	f.Float64Var(&u, "u", 0, "with correct: standard uncertainty of a measure, in its unit")
	f.StringVar(&ask.Why, "why", "", "with void, correct and undo: the reason")
	f.BoolVar(&asJSON, "json", false, "print the daemon's answer as it is, for programs")
	f.IntVar(&ask.Run, "run", 0, "with void and correct: which run, from 1 (default: all of the session)")
	return c
}

// act asks the daemon and prints what it answers.
func act(e env, at string, ask live.Asked, asJSON bool) error {
	b, err := askDaemon(http.MethodPost, at, "/act", ask)
	if err != nil {
		return err
	}
	if asJSON {
		_, err = e.out.Write(b)
		return err
	}
	said, err := live.Said(ask, b)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(e.out, strings.TrimSpace(said))
	return err
}
