package rank

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Term is one criterion in a weighted sum of points.
type Term struct {
	ID     string
	Weight float64 // effective: its share of the total, see [Shares]
	Points float64
	Failed bool // its gate failed

	// Crossed is the points that the other side's measure would get under this side's curve: it tells
	// a new curve from a new measure. May be absent.
	Crossed Value
}

// Cause is why a criterion's part of the total changed.
type Cause string

const (
	CauseWeight  Cause = "weight"  // the rule: how much it counts
	CauseCurve   Cause = "curve"   // the rule: how a measure becomes points
	CauseMeasure Cause = "measure" // what was measured
	CausePoints  Cause = "points"  // curve or measure, not known which
	CauseGate    Cause = "gate"    // a gate passed that had failed, or the other way
	CauseAdded   Cause = "added"
	CauseRemoved Cause = "removed"
)

// Causes lists all causes, in the order in which those of equal size are listed.
var Causes = []Cause{CauseGate, CauseMeasure, CauseCurve, CausePoints, CauseWeight, CauseAdded, CauseRemoved}

// Part is a share in the move of a total.
type Part struct {
	ID     string
	Cause  Cause
	Points float64 // of the total; positive: up
}

// Move is a total that changed and why: its parts add up to New-Old.
type Move struct {
	Old, New float64
	Parts    []Part // the largest first; none is 0
}

// Attribute says why a weighted sum changed. Terms are matched by ID.
//
// The change of w*p is split as (change of w)*(mean p) + (mean w)*(change of p), which leaves nothing
// over. The second is the gate's if its outcome changed; else, where both Crossed are known, it is
// split between curve and measure by the mean over the two orders of changing them (the Shapley value
// of two players).
//
// An ID that occurs twice on one side, or a number that is not finite, is an error.
func Attribute(old, new []Term) (Move, error) {
	was, err := byID(old)
	if err != nil {
		return Move{}, fmt.Errorf("old terms: %w", err)
	}
	is, err := byID(new)
	if err != nil {
		return Move{}, fmt.Errorf("new terms: %w", err)
	}
	var m Move
	for _, t := range old {
		m.Old += t.Weight * t.Points
		if n, ok := is[t.ID]; ok {
			m.both(t, n)
		} else {
			m.part(t.ID, CauseRemoved, -t.Weight*t.Points)
		}
	}
	for _, t := range new {
		m.New += t.Weight * t.Points
		if _, ok := was[t.ID]; !ok {
			m.part(t.ID, CauseAdded, t.Weight*t.Points)
		}
	}
	slices.SortFunc(m.Parts, func(a, b Part) int {
		return cmp.Or(
			cmp.Compare(math.Abs(b.Points), math.Abs(a.Points)),
			cmp.Compare(a.ID, b.ID),
			cmp.Compare(slices.Index(Causes, a.Cause), slices.Index(Causes, b.Cause)),
		)
	})
	return m, nil
}

// both adds the parts of a criterion that is on both sides.
func (m *Move) both(old, new Term) {
	m.part(old.ID, CauseWeight, (new.Weight-old.Weight)*(old.Points+new.Points)/2)
	w, d := (old.Weight+new.Weight)/2, new.Points-old.Points
	switch {
	case old.Failed != new.Failed:
		m.part(old.ID, CauseGate, w*d)
	case old.Crossed.OK && new.Crossed.OK:
		// old.Crossed: new measure, old curve; new.Crossed: old measure, new curve
		x, y := old.Crossed.V, new.Crossed.V
		m.part(old.ID, CauseCurve, w*((y-old.Points)+(new.Points-x))/2)
		m.part(old.ID, CauseMeasure, w*((x-old.Points)+(new.Points-y))/2)
	default:
		m.part(old.ID, CausePoints, w*d)
	}
}

func (m *Move) part(id string, why Cause, points float64) {
	if points != 0 {
		m.Parts = append(m.Parts, Part{ID: id, Cause: why, Points: points})
	}
}

func byID(terms []Term) (map[string]Term, error) {
	ids := make(map[string]Term, len(terms))
	for _, t := range terms {
		if _, twice := ids[t.ID]; twice {
			return nil, fmt.Errorf("criterion %q occurs twice; expected once", t.ID)
		}
		if !finite(t.Weight) || !finite(t.Points) || t.Crossed.OK && !finite(t.Crossed.V) {
			return nil, fmt.Errorf("criterion %q: weight %v, points %v; expected finite numbers", t.ID, t.Weight, t.Points)
		}
		ids[t.ID] = t
	}
	return ids, nil
}
