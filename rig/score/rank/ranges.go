package rank

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Estimate is the score of one unit and what is known of its uncertainty.
type Estimate struct {
	Score float64 // unrounded; one that is not finite stands nowhere
	Var   float64 // squared standard uncertainty, in squared units of Score
	Dof   float64 // degrees of freedom of Var, at least 1, up to +Inf; of no matter where Var is 0
	Pool  int     // not 0: units with this number got Var from one pooled spread, and Dof is that spread's
}

// Range is where a unit may stand: all ranges hold together with the confidence asked for. The zero
// Range belongs to a unit that stands nowhere.
type Range struct{ Best, Worst int }

// Comparison is which units can be told apart.
type Comparison struct {
	order []int  // units that have a score, best first, tied ones by position
	apart []bool // [i*len(order)+j]: the units at i and j of order can be told apart
	n     int    // units in all
}

// Compare tells all units apart that can be, two by two, so that no pair is told apart wrongly with
// probability 1-alpha (0.05: 95 %).
//
// A difference counts if it exceeds q(1-alpha; k, dof)/sqrt 2 * sqrt(Var_u+Var_v), with q the quantile
// of the studentized range of the k units and dof by Welch and Satterthwaite: the test of Games and
// Howell. Two units of one Pool have one and the same spread behind them, so the lesser Dof counts:
// the test of Tukey and Kramer. Scores that tie as in [Places] are never told apart, others always
// where both Var are 0. A Var that is negative or not finite, or that has fewer than 1 degree of
// freedom, tells its unit apart from none.
//
// It is an error to ask for more than [MaxGroups] units or an alpha not between 0 and 1.
func Compare(units []Estimate, alpha float64, better Better) (*Comparison, error) {
	if !(alpha > 0 && alpha < 1) {
		return nil, fmt.Errorf("alpha is %v; expected more than 0 and less than 1, such as 0.05", alpha)
	}
	c := inOrder(units, better)
	if k := len(c.order); k > MaxGroups {
		return nil, fmt.Errorf("%d units to compare; expected at most %d: compare fewer at a time", k, MaxGroups)
	}
	c.tell(units, critical(units, c.order, 1-alpha))
	return c, nil
}

func inOrder(units []Estimate, better Better) *Comparison {
	scores := make([]float64, len(units))
	for i, u := range units {
		scores[i] = u.Score
	}
	s := sorter{better: better}
	c := &Comparison{n: len(units)}
	places := make([]int, len(units))
	s.places(scores, func(unit, place int) {
		c.order = append(c.order, unit)
		places[unit] = place
	})
	slices.SortFunc(c.order, func(u, v int) int { // ties by position
		return cmp.Or(cmp.Compare(places[u], places[v]), cmp.Compare(u, v))
	})
	return c
}

// tell marks the pairs whose difference exceeds the critical range q(dof).
func (c *Comparison) tell(units []Estimate, q func(dof float64) float64) {
	k := len(c.order)
	c.apart = make([]bool, k*k)
	for i, u := range c.order {
		for j := i + 1; j < k; j++ {
			a, b := units[u], units[c.order[j]]
			if tied(a.Score, b.Score) {
				continue
			}
			variance, dof := pair(a, b)
			far := variance == 0
			if variance > 0 && dof >= 1 {
				far = math.Abs(a.Score-b.Score) > q(dof)*math.Sqrt(variance/2)
			}
			c.apart[i*k+j], c.apart[j*k+i] = far, far
		}
	}
}

// pair returns the variance of the difference of two units and its degrees of freedom; dof 0: nothing
// is known of it.
func pair(a, b Estimate) (variance, dof float64) {
	if !a.known() || !b.known() {
		return math.NaN(), 0
	}
	variance = a.Var + b.Var
	switch {
	case variance == 0 || math.IsInf(variance, 1):
		return variance, 0
	case a.Var == 0:
		return variance, b.Dof
	case b.Var == 0:
		return variance, a.Dof
	case a.Pool != 0 && a.Pool == b.Pool:
		return variance, min(a.Dof, b.Dof)
	}
	x, y := a.Var/variance, b.Var/variance
	return variance, 1 / (x*x/a.Dof + y*y/b.Dof)
}

func (e Estimate) known() bool {
	return e.Var == 0 || e.Var > 0 && finite(e.Var) && e.Dof >= 1
}

// Ranges returns where each unit may stand: best 1 + the number of units certainly better, worst the
// number of units less those certainly worse.
func (c *Comparison) Ranges() []Range {
	out := make([]Range, c.n)
	k := len(c.order)
	for i, u := range c.order {
		r := Range{Best: 1, Worst: k}
		for j := range k {
			switch {
			case !c.apart[i*k+j]:
			case j < i:
				r.Best++
			default:
				r.Worst--
			}
		}
		out[u] = r
	}
	return out
}
