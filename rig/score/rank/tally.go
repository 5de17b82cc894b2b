package rank

import "fmt"

// Tally counts the places of units over many draws of their scores. Its memory is one counter per
// unit and place, however many draws: 1.2 MB for 555 units.
type Tally struct {
	sorter sorter
	n      int
	draws  int
	counts []uint32 // [unit*n+place-1]
}

// NewTally returns a tally for that many units.
func NewTally(units int, better Better) *Tally {
	units = max(units, 0)
	return &Tally{sorter: sorter{better: better}, n: units, counts: make([]uint32, units*units)}
}

// Add counts the places of one draw, by the rule of [Places]. A score that is not finite has no place
// in this draw.
func (t *Tally) Add(scores []float64) error {
	if len(scores) != t.n {
		return fmt.Errorf("a draw of %d scores; expected %d, one per unit", len(scores), t.n)
	}
	t.draws++
	t.sorter.places(scores, func(unit, place int) { t.counts[unit*t.n+place-1]++ })
	return nil
}

// Stability is how one unit fared over the draws.
type Stability struct {
	Draws            int     // in which it had a place
	Top1, Top3, Top5 float64 // share of all draws in which its place was at most 1, 3, 5
	Median           int     // place; 0 without draws, as the next two
	Low, High        int     // places at 2.5 % and 97.5 % of its draws
}

// Unit returns how the unit at that position fared.
//
// Low to High is too narrow to print as the range of places where units are close: that is
// [Comparison.Ranges].
func (t *Tally) Unit(unit int) Stability {
	counts := t.counts[unit*t.n : (unit+1)*t.n]
	var s Stability
	for _, c := range counts {
		s.Draws += int(c)
	}
	if s.Draws == 0 {
		return s
	}
	seen := 0
	for i, c := range counts {
		seen += int(c)
		place, of := i+1, float64(s.Draws)
		reach := func(at *int, share float64) { // the first place by which that share of draws is reached
			if *at == 0 && float64(seen) >= share*of {
				*at = place
			}
		}
		reach(&s.Low, 0.025)
		reach(&s.Median, 0.5)
		reach(&s.High, 0.975)
	}
	top := func(places int) float64 {
		n := 0
		for _, c := range counts[:min(places, len(counts))] {
			n += int(c)
		}
		return float64(n) / float64(t.draws)
	}
	s.Top1, s.Top3, s.Top5 = top(1), top(3), top(5)
	return s
}
