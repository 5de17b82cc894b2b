package score

import (
	"fmt"

	"quern/config"
	"quern/rig"
	"quern/rig/score/rank"
)

// settle sums the criteria of a test up, by the rule for what is missing.
func (c *Campaign) settle(ts *TestScore) {
	ts.Earned = c.sum(ts, func(k *CriterionScore) rig.Figure { return k.Earned })
	for _, k := range ts.Criteria {
		switch {
		case ts.Outcome == Failed:
			k.Points = rig.Fig(ts.Test.FailedPoints)
		case ts.Outcome == IsVoid: // our fault: never the worst
			k.Points = rig.Absent(string(ts.Outcome))
		case ts.Outcome != Passed:
			k.Points = c.lacking(k, string(ts.Outcome))
		case !k.Points.OK:
			k.Points = c.lacking(k, k.Points.Why)
		}
	}
	ts.Points = c.sum(ts, func(k *CriterionScore) rig.Figure { return k.Points })
	if !ts.Points.OK {
		ts.Points = rig.Absent(ts.lacks())
	}
	if !ts.Earned.OK {
		ts.Earned = rig.Absent(ts.lacks())
	}
}

// lacks says why a test has no points.
func (ts *TestScore) lacks() string {
	if ts.Outcome != Passed {
		return string(ts.Outcome)
	}
	for _, k := range ts.Criteria {
		if !k.Points.OK {
			return k.Points.Why
		}
	}
	return "no-criterion"
}

// lacking is what a missing value counts: nothing, or the worst points of its curve.
func (c *Campaign) lacking(k *CriterionScore, why string) rig.Figure {
	if c.Lab.Scorecard.Missing != "worst" {
		return rig.Absent(why)
	}
	least := 10.0
	for _, p := range c.curves[k.index].Points() {
		least = min(least, p[1])
	}
	return rig.Figure{V: least, OK: true, Why: why} // the reason stays: it was not earned
}

// rule is what is done with what is missing after that.
func (c *Campaign) rule() rank.Missing {
	if c.Lab.Scorecard.Missing == "unranked" {
		return rank.Missing{Rule: rank.Refuse}
	}
	return rank.Missing{Rule: rank.Exclude}
}

// sum is the weighted mean of the criteria of a test.
func (c *Campaign) sum(ts *TestScore, of func(*CriterionScore) rig.Figure) rig.Figure {
	var values []rank.Value
	var weights []float64
	for _, k := range ts.Criteria {
		f := of(k)
		values = append(values, rank.Value{V: f.V, OK: f.OK})
		weights = append(weights, k.Criterion.Weight)
	}
	return figure(rank.Mean(values, weights, c.rule()))
}

func figure(v rank.Value) rig.Figure {
	if !v.OK {
		return rig.Absent("missing")
	}
	return rig.Fig(v.V)
}

func value(f rig.Figure) rank.Value { return rank.Value{V: f.V, OK: f.OK} }

// rollUp sums criteria up to tests, tests to categories and categories to the whole, and gives every
// criterion its effective weight: the whole is the sum of weight x points over all criteria.
func (c *Campaign) rollUp(u *Unit) {
	s := &c.Lab.Scorecard
	categories := s.Categories
	if len(categories) == 0 {
		categories = []config.Category{{Weight: 1}}
	}
	var of []rank.Value
	var weights []float64
	within := make([][]float64, len(categories)) // shares of the tests
	members := make([][]*TestScore, len(categories))
	for i := range categories {
		var points []rank.Value
		var w []float64
		for _, ts := range u.Tests {
			if ts.Test.Category == categories[i].ID {
				members[i] = append(members[i], ts)
				points = append(points, value(ts.Points))
				w = append(w, ts.Test.Weight)
			}
		}
		mean := rank.Mean(points, w, c.rule())
		within[i] = rank.Shares(points, w, c.rule())
		of = append(of, mean)
		weights = append(weights, categories[i].Weight)
		if len(s.Categories) > 0 {
			u.Categories = append(u.Categories, CategoryScore{&s.Categories[i], figure(mean)})
		}
	}
	u.Overall = figure(rank.Mean(of, weights, c.rule()))
	if !c.measured(u) {
		u.Overall = rig.Absent("not tested")
	}
	u.Ranked = u.Overall.OK
	shares := rank.Shares(of, weights, c.rule())
	for i := range categories {
		for j, ts := range members[i] {
			if shares != nil && within[i] != nil {
				c.weights(ts, shares[i]*within[i][j])
			}
		}
	}
	c.note(u)
}

// measured tells whether anything of the unit was: one of which only a price is known has no place among
// those that were run.
func (c *Campaign) measured(u *Unit) bool {
	runs, byHand, some := false, false, false
	for _, ts := range u.Tests {
		known := ts.Outcome == Passed || ts.Outcome == Failed
		if ts.Test.Procedure == "" {
			byHand = byHand || known
		} else {
			runs, some = true, some || known
		}
	}
	return some || !runs && byHand
}

// weights gives the criteria of a test their part of its share.
func (c *Campaign) weights(ts *TestScore, share float64) {
	var values []rank.Value
	var weights []float64
	for _, k := range ts.Criteria {
		values = append(values, value(k.Points))
		weights = append(weights, k.Criterion.Weight)
	}
	for i, s := range rank.Shares(values, weights, c.rule()) {
		ts.Criteria[i].Weight = share * s
	}
}

// note says what was missing and what was failed.
func (c *Campaign) note(u *Unit) {
	done := map[string]string{"reweight": "left out, the rest reweighted", "worst": "counted as the worst", "unranked": "so the unit is not ranked"}[c.Lab.Scorecard.Missing]
	if !c.measured(u) {
		done = "and the unit has no place, for nothing of it was run"
	}
	for _, ts := range u.Tests {
		switch ts.Outcome {
		case Failed:
			u.Failed = append(u.Failed, ts.Title())
			continue
		case Passed:
		case IsVoid:
			u.Missing = append(u.Missing, fmt.Sprintf("%s: void, to be repeated", ts.Title()))
			continue
		default:
			u.Missing = append(u.Missing, fmt.Sprintf("%s: %s (%s), %s", ts.Title(), ts.Outcome, ts.Why, done))
			continue
		}
		for _, k := range ts.Criteria {
			if why := k.Points.Why; why != "" {
				u.Missing = append(u.Missing, fmt.Sprintf("%s, %s: %s, %s", ts.Title(), k.Title(), rig.WhyWords(why), done))
			} else if n, why := k.without(); n > 0 {
				u.Missing = append(u.Missing, fmt.Sprintf("%s, %s: %s in %d of %s, the mean is of the others", ts.Title(), k.Title(), rig.WhyWords(why), n, rig.Count(len(k.PerRun), "run")))
			}
		}
	}
}

// without counts the runs that give the criterion nothing, and says why the last did not.
func (k *CriterionScore) without() (n int, why string) {
	for _, p := range k.PerRun {
		if !p.Points.OK && !p.Floor {
			n, why = n+1, p.Points.Why
		}
	}
	return n, why
}

// Title is what a test is called in print.
func (ts *TestScore) Title() string {
	if ts.Test.Title != "" {
		return ts.Test.Title
	}
	return ts.Test.ID
}

// Title is what a criterion is called in print.
func (k *CriterionScore) Title() string {
	if k.Criterion.Title != "" {
		return k.Criterion.Title
	}
	return k.Criterion.ID
}
