package score

import (
	"fmt"

	"quern/rig"
	"quern/rig/score/rank"
)

// Move is how one unit moved between two standings, and why.
type Move struct {
	Unit               string
	OldPlace, NewPlace int // 0: none
	Old, New           rig.Figure
	rank.Move          // parts that add up to the move of the points
	Criteria           []CriterionMove
}

// CriterionMove is a measure whose mean changed.
type CriterionMove struct {
	ID       string
	Measure  string
	Old, New rig.Figure
}

// Against says who moved from one ranking to another, by how much and because of what. A unit that had
// no points before or has none now moves without parts.
func Against(old, new *Standings) ([]Move, error) {
	before := map[string]Standing{}
	for _, l := range old.Lines {
		before[l.Unit.Unit.ID] = l
	}
	var out []Move
	stayed := map[string]bool{}
	for _, l := range new.Lines {
		stayed[l.Unit.Unit.ID] = true
		o, ok := before[l.Unit.Unit.ID]
		m := Move{Unit: l.Unit.Unit.ID, NewPlace: l.Place, New: l.Overall}
		if ok {
			m.OldPlace, m.Old = o.Place, o.Overall
		} else {
			m.Old = rig.Absent("not in the old standings")
		}
		if ok && o.Ranked && l.Ranked {
			var err error
			if m.Move, err = rank.Attribute(terms(old.Campaign, o.Unit, l.Unit), terms(new.Campaign, l.Unit, o.Unit)); err != nil {
				return nil, fmt.Errorf("%s: %w", m.Unit, err)
			}
			m.Criteria = changed(o.Unit, l.Unit)
		}
		out = append(out, m)
	}
	for _, o := range old.Lines {
		if !stayed[o.Unit.Unit.ID] {
			out = append(out, Move{Unit: o.Unit.Unit.ID, OldPlace: o.Place, Old: o.Overall, New: rig.Absent("not in the new standings")})
		}
	}
	return out, nil
}

// criteria returns the criteria of a unit with their tests.
func (u *Unit) criteria(visit func(*TestScore, *CriterionScore)) {
	for _, ts := range u.Tests {
		for _, k := range ts.Criteria {
			visit(ts, k)
		}
	}
}

func (u *Unit) criterion(id string) (*TestScore, *CriterionScore) {
	var t *TestScore
	var found *CriterionScore
	u.criteria(func(ts *TestScore, k *CriterionScore) {
		if k.Criterion.ID == id {
			t, found = ts, k
		}
	})
	return t, found
}

// terms lists what a unit's total is made of under one campaign, with the points that its measures in the
// other would get under the curves of this one.
func terms(c *Campaign, u, ou *Unit) []rank.Term {
	var out []rank.Term
	u.criteria(func(ts *TestScore, k *CriterionScore) {
		if k.Weight == 0 {
			return
		}
		t := rank.Term{ID: k.Criterion.ID, Weight: k.Weight, Points: k.Points.V, Failed: ts.Outcome == Failed}
		ots, ok := ou.criterion(k.Criterion.ID)
		if ok != nil && ts.Outcome == Passed && ots.Outcome == Passed && ok.Criterion.Measure == k.Criterion.Measure {
			if f := c.under(k.index, ots, ok); f.OK {
				t.Crossed = rank.Val(f.V)
			}
		}
		out = append(out, t)
	})
	return out
}

// under is what the runs of another campaign's criterion earn under a curve of this one.
func (c *Campaign) under(index int, ots *TestScore, other *CriterionScore) rig.Figure {
	if c.Lab.Scorecard.PointsOf == "mean" {
		_, f := c.earn(index, other.Mean)
		return f
	}
	var points []float64
	for _, p := range other.PerRun {
		if p.Floor {
			points = append(points, ots.Test.FailedPoints)
		} else if _, f := c.earn(index, p.Value); f.OK {
			points = append(points, f.V)
		}
	}
	return mean(points)
}

// changed lists the measures whose means differ.
func changed(old, new *Unit) []CriterionMove {
	var out []CriterionMove
	new.criteria(func(_ *TestScore, k *CriterionScore) {
		_, o := old.criterion(k.Criterion.ID)
		if o == nil || o.Mean.OK == k.Mean.OK && o.Mean.V == k.Mean.V {
			return
		}
		out = append(out, CriterionMove{k.Criterion.ID, k.Criterion.Measure, o.Mean.Figure, k.Mean.Figure})
	})
	return out
}
