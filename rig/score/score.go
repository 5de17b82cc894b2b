// Package score is what becomes of measured runs: measures with their uncertainty, gates, points,
// standings, and what changes when the rules do. It is pure: the same lab, records and hand-entered
// values give the same answer, whatever order they come in.
//
// Arithmetic is in gum (uncertainty, decisions, curves) and rank (repeats, places, attribution).
package score

import (
	"cmp"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/score/gum"
)

// Campaign is all runs of a lab under one set of rules.
type Campaign struct {
	Lab   *config.Lab
	Runs  []*Run  // all, in order of time; those that do not count too
	Units []*Unit // in the lab's order; the control unit is not among them
	Loose []Loose // records that could not be placed

	curves []*gum.Curve // of the criteria, in the scorecard's order
	hand   map[handKey]rig.HandValue
	pooled []spread // of the procedures, in the lab's order
}

// Loose is a session that no run could be made of.
type Loose struct{ Session, Why string }

type handKey struct{ unit, name string }

// Score measures, judges and scores all records under the rules of a lab. Of several values entered by
// hand for the same thing the latest counts. Of the records beside, of other sessions, the checks of the day count,
// and nothing else: a session that is judged by itself needs those that were made in the day's first.
func Score(lab *config.Lab, records []rig.Record, hand []rig.HandValue, beside ...rig.Record) (*Campaign, error) {
	lab = lab.WithTests()
	c := &Campaign{Lab: lab, hand: map[handKey]rig.HandValue{}}
	for i := range lab.Scorecard.Criteria {
		k, err := curve(&lab.Scorecard.Criteria[i])
		if err != nil {
			return nil, err
		}
		c.curves = append(c.curves, k)
	}
	for _, h := range hand {
		key := handKey{h.Unit, h.Name}
		if old, ok := c.hand[key]; !ok || !h.At.Before(old.At) {
			c.hand[key] = h
		}
	}
	c.gather(records)
	c.plan()
	c.checked(records, beside)
	c.flag()
	of := c.byTest()
	for i := range lab.Units {
		if u := &lab.Units[i]; u.ID != lab.Bench.Control.Unit {
			c.Units = append(c.Units, c.unit(u, of))
		}
	}
	c.weigh()
	c.repeats()
	return c, nil
}

// curve returns the curve of a criterion; without points of its own a value of 0 to 10 is its own points.
func curve(k *config.Criterion) (*gum.Curve, error) {
	points := [][2]float64{{0, 0}, {10, 10}}
	if len(k.Curve) > 0 {
		points = points[:0]
		for _, a := range k.Curve {
			points = append(points, [2]float64{a.At, a.Points})
		}
	}
	return gum.NewCurve(points, k.Shape, k.Outside)
}

// gather makes runs of the records and puts them in order of time.
func (c *Campaign) gather(records []rig.Record) {
	records = slices.Clone(records)
	slices.SortStableFunc(records, func(a, b rig.Record) int {
		return cmp.Or(a.Started.Compare(b.Started), strings.Compare(a.Session, b.Session))
	})
	for i := range records {
		runs, why := c.runs(&records[i])
		if why != "" {
			c.Loose = append(c.Loose, Loose{records[i].Session, why})
		}
		c.Runs = append(c.Runs, runs...)
	}
}

// plan decides which runs count: the first of each unit and procedure that are not void, as many as the
// procedure repeats.
func (c *Campaign) plan() {
	seen := map[testKey]int{}
	for _, r := range c.Runs {
		if r.Status != Counts {
			continue
		}
		key := testKey{r.Unit, r.Procedure.ID}
		if seen[key]++; seen[key] > r.Procedure.Repeats {
			r.Status = Unplanned
		}
	}
}

// testKey is whose runs, by which procedure.
type testKey struct{ unit, procedure string }

// byTest sorts the runs by unit and procedure.
func (c *Campaign) byTest() map[testKey][]*Run {
	out := map[testKey][]*Run{}
	for _, r := range c.Runs {
		k := testKey{r.Unit, r.Procedure.ID}
		out[k] = append(out[k], r)
	}
	return out
}

// Unit returns the scores of a unit; nil: there is none of that id.
func (c *Campaign) Unit(id string) *Unit {
	for _, u := range c.Units {
		if u.Unit.ID == id {
			return u
		}
	}
	return nil
}
