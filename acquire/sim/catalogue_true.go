package sim

import (
	"math"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
)

// Expect is what a measure of a unit under a procedure would come to over very many runs, as far as
// the traits tell: shares, counts and values by hand truly, times within some seconds and levels within
// some decibels, for all units alike. False: it cannot be told, or the unit has no such runs.
func (s *Season) Expect(unit, procedure, measure string) (float64, bool) {
	u := slices.IndexFunc(s.machines, func(m Unit) bool { return m.ID == unit })
	if u < 0 || u >= s.o.Units {
		return 0, false
	}
	if name, ok := strings.CutPrefix(measure, rig.HandMeasure); ok {
		i := slices.IndexFunc(s.Hand, func(v rig.HandValue) bool { return v.Unit == unit && v.Name == name })
		if i < 0 {
			return 0, false
		}
		return s.Hand[i].Value, true
	}
	k := slices.IndexFunc(s.procedures, func(p *config.Procedure) bool { return p.ID == procedure })
	if k < 0 || unit == s.Told.Untested && procedure == s.Told.UntestedIn {
		return 0, false
	}
	t, p, m := &s.Traits[u], s.procedures[k], &s.machines[u]
	grinds := grindS(p) / t.Speed
	over := grinds + 11 // run-up, what is left at the last feeding, and the flush
	trips := 0.0
	if hardness(p) == 2 {
		trips = t.Trip
	}
	coarse := t.Coarse * limit(p, "coarse_share", coarseLimit)
	level := 10 * math.Log10(math.Pow(10, m.NoLoadDBA/10)+grinds/over*math.Pow(10, m.GrindDBA/10))
	v, ok := map[string]float64{
		"run_time_s": over, "motor_on_s": over, "elapsed_s": over, "clear_s": over - 7, "trips": trips,
		"left_share": t.Left[k] * limit(p, "left_share", leftLimit), "coarse_share": coarse, "fine_share": t.Fine, "sizeable_share": coarse + t.Fine,
		"laeq_db": level, "lafmax_db": level + 12, "la10_db": level + 4,
	}[measure]
	return v, ok
}

// TrueRank returns the units from the best to the worst by what is to be expected of them under a
// scorecard: what a good season of tests should come to. Curves are taken as straight, and what cannot be
// told, or has not been tested, as left out and the rest reweighted.
func (s *Season) TrueRank(card config.Scorecard) []string {
	merit := map[string]float64{}
	var ids []string
	for i := range s.o.Units {
		id := s.machines[i].ID
		ids = append(ids, id)
		merit[id] = s.merit(id, &card)
	}
	slices.SortStableFunc(ids, func(a, b string) int {
		switch {
		case merit[a] > merit[b]:
			return -1
		case merit[a] < merit[b]:
			return 1
		}
		return 0
	})
	return ids
}

// mean is a weighted mean that grows.
type mean struct{ sum, weight float64 }

func (m *mean) add(v, weight float64) { m.sum, m.weight = m.sum+v*weight, m.weight+weight }

func (s *Season) merit(unit string, card *config.Scorecard) float64 {
	var whole mean
	add := func(category string, weight float64) {
		var of mean
		for _, t := range card.Tests {
			if t.Category != category {
				continue
			}
			if v, ok := s.earns(unit, card, &t); ok {
				of.add(v, t.Weight)
			}
		}
		if of.weight > 0 {
			whole.add(of.sum/of.weight, weight)
		}
	}
	for _, c := range card.Categories {
		add(c.ID, c.Weight)
	}
	if len(card.Categories) == 0 {
		add("", 1)
	}
	if whole.weight == 0 {
		return 0
	}
	return whole.sum / whole.weight
}

// earns is what a unit is to be expected to earn in a test; false if it has nothing there.
func (s *Season) earns(unit string, card *config.Scorecard, t *config.Test) (float64, bool) {
	if p := s.lab.Procedure(t.Procedure); p != nil && t.Gated {
		for _, g := range p.Gates {
			if v, ok := s.Expect(unit, p.ID, g.Measure); ok && (g.Side == "at-least" && v < g.Limit || g.Side != "at-least" && v > g.Limit) && g.Measure != "trips" {
				return t.FailedPoints, true
			}
		}
	}
	var of mean
	for _, c := range card.Criteria {
		if c.Test != t.ID {
			continue
		}
		if v, ok := s.Expect(unit, t.Procedure, c.Measure); ok {
			of.add(along(c.Curve, v), c.Weight)
		}
	}
	return of.sum / math.Max(of.weight, 1e-9), of.weight > 0
}

// along is the height of a curve of straight lines, level beyond its ends; without points the value is
// its own height.
func along(curve []config.Anchor, v float64) float64 {
	for i, b := range curve {
		if v > b.At {
			continue
		}
		if i == 0 {
			return b.Points
		}
		a := curve[i-1]
		return a.Points + (b.Points-a.Points)*(v-a.At)/(b.At-a.At)
	}
	if n := len(curve); n > 0 {
		return curve[n-1].Points
	}
	return v
}
