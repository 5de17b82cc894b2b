package pages

import (
	"cmp"
	"fmt"

	"quern/rig/report"
	"quern/rig/score"
)

type testPage struct {
	Title    string
	What     string // procedure, weight, category
	Criteria []string
	Rows     []testRow
}

type testRow struct {
	Shown, Outcome, Verdict, Points, Why string
	Runs                                 string // address of the sessions behind it; "": there are none
	Cells                                []criterionCell
}

type criterionCell struct {
	Value, Half, Points, Mark string
}

func (p *standingsPage) tests(s *score.Standings, day string) {
	card := &s.Campaign.Lab.Scorecard
	category := map[string]string{}
	for _, k := range card.Categories {
		category[k.ID] = cmp.Or(k.Title, k.ID)
	}
	for i := range card.Tests {
		t := &card.Tests[i]
		x := testPage{Title: cmp.Or(t.Title, t.ID)}
		x.What = fmt.Sprintf("weight %g in %s", t.Weight, cmp.Or(category[t.Category], "the whole"))
		if pr := s.Campaign.Lab.Procedure(t.Procedure); pr != nil {
			x.What = "procedure " + cmp.Or(pr.Title, pr.ID) + ", " + x.What
			if pr.Beyond {
				x.What += ", beyond the makers' instructions"
			}
		}
		if !t.Gated {
			x.What += ", a failed gate does not fail it"
		}
		for _, k := range card.Criteria {
			if k.Test == t.ID {
				x.Criteria = append(x.Criteria, report.CriterionWords(&k))
			}
		}
		means := report.Style{}.MeansOf(i, s.Lines)
		for n, l := range s.Lines {
			ts := l.Tests[i]
			row := testRow{Shown: l.Unit.Unit.Shown(day), Outcome: report.OutcomeWords(ts), Verdict: report.OutcomeKey(ts.Outcome, ts.NoGate()), Points: report.PointsWords(ts.Points), Why: report.PlainWords(ts.Why)}
			if len(ts.Runs)+len(ts.Aside) > 0 {
				row.Runs = filter{Unit: l.Unit.Unit.ID, Procedure: t.Procedure}.link(1)
			}
			for j, k := range ts.Criteria {
				cell := criterionCell{Value: means[n][j], Points: report.PointsWords(k.Earned)}
				if k.Repeats.Half.OK {
					cell.Half = report.HalfWords(k.Criterion.Measure, k.Repeats.Half.V)
				}
				switch {
				case k.Best:
					cell.Mark = "best"
				case k.Worst:
					cell.Mark = "worst"
				}
				row.Cells = append(row.Cells, cell)
			}
			x.Rows = append(x.Rows, row)
		}
		p.Tests = append(p.Tests, x)
	}
}
