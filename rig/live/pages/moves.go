package pages

import (
	"cmp"
	"fmt"
	"math"

	"quern/rig/report"
	"quern/rig/score"
	"quern/rig/score/rank"
)

// moveOf says how a unit moved, and which causes make up its move.
func moveOf(m score.Move, c *score.Campaign, day string) movePage {
	place := func(n int) string {
		if n == 0 {
			return "-"
		}
		return fmt.Sprint(n)
	}
	shown := m.Unit
	if u := c.Lab.Unit(m.Unit); u != nil {
		shown = u.Shown(day)
	}
	x := movePage{Shown: shown, Place: place(m.NewPlace), Was: place(m.OldPlace), Points: report.PointsWords(m.New), Were: report.PointsWords(m.Old), Move: "-"}
	if m.New.OK && m.Old.OK {
		x.Move = report.MoveWords(m.New.V - m.Old.V)
	}
	rest, n := 0.0, 0
	for _, part := range m.Parts {
		if math.Abs(part.Points) < 0.01 { // less than a tenth of what is printed
			rest, n = rest+part.Points, n+1
			continue
		}
		x.Parts = append(x.Parts, pair{report.MoveWords(part.Points), criterionTitle(c, part) + ": " + report.PartWords(m, part)})
	}
	if n > 0 {
		x.Parts = append(x.Parts, pair{report.MoveWords(rest), fmt.Sprintf("%d smaller causes together", n)})
	}
	return x
}

func criterionTitle(c *score.Campaign, p rank.Part) string {
	for _, k := range c.Lab.Scorecard.Criteria {
		if k.ID != p.ID {
			continue
		}
		for _, t := range c.Lab.Scorecard.Tests {
			if t.ID == k.Test {
				return cmp.Or(t.Title, t.ID) + ", " + report.CriterionWords(&k)
			}
		}
	}
	return p.ID
}
