package sheet

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"quern/config"
	"quern/rig/report"
	"quern/rig/score"
	"quern/rig/score/rank"
)

// tests tells every criterion of every unit.
func (b *book) tests(p *standingsPage, s *score.Standings) {
	card := &b.c.Lab.Scorecard
	for i := range card.Tests {
		t := &card.Tests[i]
		x := testTable{Title: cmp.Or(t.Title, t.ID), What: b.testWords(t)}
		for j := range card.Criteria {
			if card.Criteria[j].Test == t.ID {
				x.Criteria = append(x.Criteria, report.CriterionWords(&card.Criteria[j]))
			}
		}
		means := b.Style.MeansOf(i, s.Lines)
		for n, l := range s.Lines {
			ts := l.Tests[i]
			row := testRow{Shown: l.Unit.Unit.Shown(b.Day), Outcome: report.OutcomeWords(ts), Verdict: verdictOf(ts), Points: report.PointsWords(ts.Points), Why: report.PlainWords(ts.Why)}
			for j, k := range ts.Criteria {
				c := cell{Value: means[n][j], Points: report.PointsWords(k.Earned)}
				if !k.Mean.OK {
					c.Value = report.NoValue(k.Mean.Why)
				}
				if k.Repeats.Half.OK {
					c.Half = b.Style.Half(k.Criterion.Measure, k.Repeats.Half.V)
				}
				switch {
				case k.Best:
					c.Mark = "best"
				case k.Worst:
					c.Mark = "worst"
				}
				row.Cells = append(row.Cells, c)
			}
			x.Rows = append(x.Rows, row)
		}
		p.Tests = append(p.Tests, x)
	}
}

// testWords says what a test is worth, and of what.
func (b *book) testWords(t *config.Test) string {
	card := &b.c.Lab.Scorecard
	category := "the whole"
	for _, k := range card.Categories {
		if k.ID == t.Category {
			category = cmp.Or(k.Title, k.ID)
		}
	}
	out := fmt.Sprintf("weight %g in %s", t.Weight, category)
	if pr := b.c.Lab.Procedure(t.Procedure); pr != nil {
		out = "procedure " + cmp.Or(pr.Title, pr.ID) + ", " + out
		if pr.Beyond {
			out += ", beyond the makers' instructions"
		}
	}
	if !t.Gated {
		out += ", a failed gate does not fail it"
	}
	return out
}

// remarks lists what failed, what is missing and what was set aside.
func (b *book) remarks(p *standingsPage, s *score.Standings) {
	for _, l := range s.Lines {
		say := func(format string, args ...any) {
			p.Remarks = append(p.Remarks, unitRemark{l.Unit.Unit.Shown(b.Day), fmt.Sprintf(format, args...)})
		}
		if l.Unit.Unit.MakerSupplied {
			say("the sample came from its maker")
		}
		seen := map[string]bool{}
		for _, ts := range l.Tests {
			if ts.Outcome == score.Failed {
				say("%s", report.FailedWords(ts, report.PlainWords(ts.Why)))
			}
			if seen[ts.Test.Procedure] {
				continue
			}
			seen[ts.Test.Procedure] = true
			for _, v := range b.voids(ts.Aside) {
				say("%s, run of %s: %s: %s; its values: %s", v.Procedure, v.Day, v.Status, cmp.Or(v.Why, "not counted"), v.Values)
			}
		}
		for _, m := range l.Missing {
			say("%s", report.PlainWords(m))
		}
	}
}

// robust says what changes with each test left out.
func (b *book) robust(p *standingsPage, s *score.Standings) {
	for _, o := range s.Without {
		text := ""
		for i, l := range s.Lines {
			if n := o.Places[i]; n > 0 && n != l.Place {
				if text != "" {
					text += ", "
				}
				text += fmt.Sprintf("%s %d to %d", l.Unit.Unit.Shown(b.Day), l.Place, n)
			}
		}
		title := o.Test
		if t := b.c.Lab.Scorecard.Test(o.Test); t != nil {
			title = cmp.Or(t.Title, t.ID)
		}
		p.Robust = append(p.Robust, pair{title, cmp.Or(text, "no place changes")})
	}
}

// leastPart is the least part of a move that has a line of its own, points.
const leastPart = 0.0005

func (b *book) moveView(m score.Move) moveView {
	place := func(n int) string {
		if n == 0 {
			return "-"
		}
		return fmt.Sprint(n)
	}
	v := moveView{Shown: b.shown(m.Unit), Place: place(m.NewPlace), Was: place(m.OldPlace), Points: report.PointsWords(m.New), Were: report.PointsWords(m.Old), Move: "-"}
	if m.Old.OK && m.New.OK {
		v.Move = report.MoveWords(m.New.V - m.Old.V)
	}
	rest := 0.0
	parts := slices.Clone(m.Parts) // the largest first
	slices.SortStableFunc(parts, func(a, b rank.Part) int { return cmp.Compare(math.Abs(b.Points), math.Abs(a.Points)) })
	for _, k := range parts {
		if math.Abs(k.Points) < leastPart {
			rest += k.Points
			continue
		}
		name := k.ID
		for i := range b.c.Lab.Scorecard.Criteria {
			if c := &b.c.Lab.Scorecard.Criteria[i]; c.ID == k.ID {
				name = report.CriterionWords(c)
				if t := b.c.Lab.Scorecard.Test(c.Test); t != nil {
					name = cmp.Or(t.Title, t.ID) + ", " + name
				}
			}
		}
		v.Parts = append(v.Parts, pair{report.MoveWords(k.Points), name + ": " + report.PartWords(m, k)})
	}
	if math.Abs(rest) >= leastPart {
		v.Parts = append(v.Parts, pair{report.MoveWords(rest), "the rest, each less than 0.001"})
	}
	return v
}
