package gum

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// Risks are the shares of all items measured, for items and measurements that are normal.
type Risks struct {
	Conforming float64 // share of items within tolerance
	Consumer   float64 // accepted though out of tolerance: global consumer's risk
	Producer   float64 // rejected though within tolerance: global producer's risk
}

// GlobalRisks returns the risks of accepting whatever is measured within accept, when true values are
// spread as N(mean, sd) and a measurement has the standard uncertainty u (JCGM 106:2012, 9.5). An
// infinite end of an interval is no limit. Both sd and u have to be above 0.
func GlobalRisks(mean, sd, u float64, tolerance, accept Interval) (Risks, error) {
	if !finite(mean, sd, u) || sd <= 0 || u <= 0 {
		return Risks{}, fmt.Errorf("found process %g with standard deviation %g, measured to %g; expected numbers, the last two above 0", mean, sd, u)
	}
	if !(tolerance.From < tolerance.To && accept.From < accept.To) {
		return Risks{}, fmt.Errorf("found tolerance %v and acceptance %v, expected the lower end first", tolerance, accept)
	}
	r := Risks{Conforming: between(mean, sd, tolerance.From, tolerance.To)}
	edges := panels(mean, sd, u, tolerance, accept)
	for i := 1; i < len(edges); i++ {
		a, b := edges[i-1], edges[i]
		inside := tolerance.From <= a+(b-a)/2 && a+(b-a)/2 <= tolerance.To
		part := quad.Fixed(func(eta float64) float64 {
			z := (eta - mean) / sd
			p := between(eta, u, accept.From, accept.To)
			if inside {
				p = 1 - p
			}
			return p * math.Exp(-z*z/2) / (sd * math.Sqrt(2*math.Pi))
		}, a, b, 20, quad.Legendre{}, 0)
		if inside {
			r.Producer += part
		} else {
			r.Consumer += part
		}
	}
	return r, nil
}

// panels are the edges between which the integrand is smooth: at the tolerance limits it jumps, about
// the acceptance limits it bends within u, and beyond 9 sd of the process there is nothing left.
func panels(mean, sd, u float64, tolerance, accept Interval) []float64 {
	edges := []float64{tolerance.From, tolerance.To}
	for j := -9.0; j <= 9; j++ {
		edges = append(edges, mean+j*sd, accept.From+j*u, accept.To+j*u)
	}
	edges = slices.DeleteFunc(edges, func(e float64) bool { return !(e >= mean-9*sd && e <= mean+9*sd) })
	slices.Sort(edges)
	return slices.Compact(edges)
}
