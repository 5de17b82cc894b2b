package main

import (
	"cmp"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/score/plan"
)

func planCommand(e env) *cobra.Command {
	k := campaign{e: e, settings: "stored"}
	var out, opens, closes, bench string
	var days, procedures []string
	var seed uint64
	c := &cobra.Command{
		Use:   "plan --lab LAB --day DAY... --out PLAN.csv | PLAN.csv --lab LAB [SESSIONS...]",
		Short: "Draw the run order of a campaign, and re-plan the rest when a run is void",
		Long: `Draws a run order, randomised inside blocks of one food batch, day and bench, with repeats and rests, from a seed
that is printed and kept in the plan. Given a plan and the folders of sessions it enters what was done, gives every
void run a place later without reshuffling what is left, writes the plan back and prints it as a list to work
down. A plan is a table that opens in a spreadsheet.`,
		Example: `  quern plan --lab LAB --day 2026-03-02 --day 2026-03-03 --seed 7 --out plan.csv
  quern plan plan.csv --lab LAB sessions`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return replan(&k, args[0], args[1:])
			}
			if out == "" {
				return usageError{fmt.Errorf("plan: --out says where the plan is to stand; or name a plan; see 'quern plan --help'")}
			}
			l, err := readLab(e, k.lab)
			if err != nil {
				return err
			}
			when, err := plan.Days(days, opens, closes, cmp.Or(bench, l.Bench.Name))
			if err != nil {
				return usageError{fmt.Errorf("plan: %w", err)}
			}
			if !c.Flags().Changed("seed") {
				seed = uint64(e.now().UnixNano()) % 1e9
			}
			for _, id := range procedures {
				if l.Procedure(id) == nil {
					_, err := l.Setup(l.Units[0].ID, id)
					return usageError{config.First(k.lab, config.In(k.lab, err))}
				}
			}
			empty, err := score.Score(l, nil, nil)
			if err != nil {
				return err
			}
			p, err := plan.Draw(score.PlanOf(empty, when, seed, procedures))
			if err != nil {
				return usageError{err}
			}
			if err := writeNew(out, p.Write); err != nil {
				return err
			}
			fmt.Fprintf(e.out, "%s: %s drawn with seed %d\n\n", out, rig.Count(len(p.Slots), "run"), p.Seed)
			return p.List(e.out, nil)
		},
	}
	f := c.Flags()
	f.StringVar(&k.lab, "lab", "", "the lab folder: units, procedures")
	f.StringVar(&out, "out", "", "the plan's file, which must not exist")
	f.StringArrayVar(&days, "day", nil, "a day of work such as 2026-03-02; several times")
	f.StringVar(&opens, "from", "09:00", "when work begins")
	f.StringVar(&closes, "to", "17:00", "when the last run must be over")
	f.StringVar(&bench, "bench", "", "name of the bench (default: that of bench.toml)")
	f.StringArrayVar(&procedures, "procedure", nil, "only this procedure; several times (default: all)")
	f.Uint64Var(&seed, "seed", 0, "of the draw: same lab and seed, same plan (default: from the clock, printed)")
	return c
}

// replan enters what was done and writes the plan back.
func replan(k *campaign, name string, folders []string) error {
	f, err := os.Open(name)
	if err != nil {
		return usageError{rig.Unopened(name, err, "a plan", "draw one with 'quern plan --lab LAB --day DAY --out "+name+"'")}
	}
	p, err := plan.Read(f, name)
	f.Close()
	if err != nil {
		return usageError{err}
	}
	if len(folders) > 0 {
		c, err := k.read(k.lab, folders)
		if err != nil {
			return err
		}
		for _, s := range p.Slots {
			if (c.Lab.Unit(s.Unit) == nil || c.Lab.Procedure(s.Procedure) == nil) && s.What == plan.Open {
				return usageError{fmt.Errorf("%s: found unit %q under procedure %q, expected those of %s: name the lab that it was drawn for, or write skipped and a reason beside what is not run any more", name, s.Unit, s.Procedure, k.lab)}
			}
		}
		next, err := p.Replan(c.Outcomes(p))
		if err != nil {
			return usageError{fmt.Errorf("%s: %w", name, err)}
		}
		if next.Revision != p.Revision {
			if err := writeOver(name, next.Write); err != nil {
				return err
			}
			fmt.Fprintf(k.e.out, "%s: revision %d\n\n", name, next.Revision)
		}
		p = next
	}
	return p.List(k.e.out, nil)
}
