package score

import (
	"math"

	"quern/rig/score/gum"
	"quern/rig/score/rank"
)

// weightDraws is how many rankings with varied weights are looked at; the weights are few.
const weightDraws = 2000

// part is a test's share of a unit's total and its points.
type part struct{ weight, points float64 }

func parts(u *Unit) []part {
	out := make([]part, len(u.Tests))
	for i, ts := range u.Tests {
		for _, k := range ts.Criteria {
			if k.Weight > 0 {
				out[i].weight += k.Weight
				out[i].points += k.Weight * k.Points.V
			}
		}
	}
	return out
}

// reweighing is a ranking under changed weights of tests and categories.
type reweighing struct {
	lines      []Standing
	parts      [][]part // of the lines, by test
	category   []int    // of each test
	tests      []float64
	categories []float64 // by how much their weights are multiplied
	scores     []float64
}

func (s *Standings) reweighing() *reweighing {
	card := &s.Campaign.Lab.Scorecard
	w := &reweighing{lines: s.Lines, category: make([]int, len(card.Tests)), tests: make([]float64, len(card.Tests)),
		categories: make([]float64, max(1, len(card.Categories))), scores: make([]float64, len(s.Lines))}
	for i := range s.Lines {
		w.parts = append(w.parts, parts(s.Lines[i].Unit))
	}
	for i, t := range card.Tests {
		for j, k := range card.Categories {
			if k.ID == t.Category {
				w.category[i] = j
			}
		}
	}
	return w
}

// score sums the units up: tests to categories, whose weight is that of all their tests, and those to
// the whole. NaN: nothing is left of a unit, or it has no place.
func (w *reweighing) score() []float64 {
	type category struct{ weight, factored, points float64 }
	of := make([]category, len(w.categories))
	for i := range w.lines {
		clear(of)
		for t, p := range w.parts[i] {
			c := &of[w.category[t]]
			c.weight += p.weight
			c.factored += w.tests[t] * p.weight
			c.points += w.tests[t] * p.points
		}
		sum, whole := 0.0, 0.0
		for j, c := range of {
			if c.factored > 0 {
				f := w.categories[j] * c.weight
				sum += f * c.points / c.factored
				whole += f
			}
		}
		w.scores[i] = math.NaN()
		if whole > 0 && w.lines[i].Ranked {
			w.scores[i] = sum / whole
		}
	}
	return w.scores
}

// vary counts places while every weight of tests and categories is changed by up to the scorecard's share.
func (s *Standings) vary() error {
	by := s.Campaign.Lab.Scorecard.Vary
	source := gum.NewPCG(uint64(s.Campaign.Lab.Scorecard.Seed), streamWeights)
	w := s.reweighing()
	tally := rank.NewTally(len(s.Lines), rank.High)
	for range weightDraws {
		for i := range w.categories {
			w.categories[i] = 1 + by*(2*gum.Uniform(source)-1)
		}
		for i := range w.tests {
			w.tests[i] = 1 + by*(2*gum.Uniform(source)-1)
		}
		if err := tally.Add(w.score()); err != nil {
			return err
		}
	}
	for i := range s.Lines {
		s.Lines[i].Weights = tally.Unit(i)
	}
	return nil
}

// leaveOut ranks the units with each test left out in turn; the others of its category take its place.
func (s *Standings) leaveOut() {
	w := s.reweighing()
	for i := range w.categories {
		w.categories[i] = 1
	}
	for i, t := range s.Campaign.Lab.Scorecard.Tests {
		for j := range w.tests {
			w.tests[j] = 1
		}
		w.tests[i] = 0
		s.Without = append(s.Without, Without{t.ID, rank.Places(w.score(), rank.High)})
	}
}
