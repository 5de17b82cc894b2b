package gum

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Verdict is the outcome at a gate.
type Verdict string

const (
	Pass      Verdict = "pass"
	PassClose Verdict = "pass (close)"
	FailClose Verdict = "fail (close)"
	Fail      Verdict = "fail"
)

// Passed says whether the gate is taken as met.
func (v Verdict) Passed() bool { return v == Pass || v == PassClose }

// Close says whether the limit lies within the guard band, so that another weighing or run may help.
func (v Verdict) Close() bool { return v == PassClose || v == FailClose }

// Side is the side of the limit on which a value conforms; the limit itself conforms on both.
type Side string

const (
	AtMost  Side = "at most"
	AtLeast Side = "at least"
)

// Rule is a decision rule, stated before the measurement (JCGM 106:2012, clause 8).
type Rule string

const (
	FourWay Rule = "four-way" // pass, pass (close), fail (close), fail: a band on both sides of the limit
	Guarded Rule = "guarded"  // pass only a band inside the limit, otherwise fail
	Simple  Rule = "simple"   // pass or fail at the limit: shared risk
)

// Gate is one limit with its rule.
type Gate struct {
	Limit float64
	Side  Side
	Rule  Rule
	K     float64 // guard factor: the band is K standard uncertainties wide; 0 or more
}

// Decision is a verdict with what it rests on, in the unit of the limit.
type Decision struct {
	Verdict     Verdict
	Margin      float64 // how far inside the limit the estimate lies; negative: outside
	Band        float64 // w = K*u; 0 by the simple rule
	Conformance float64 // probability that the true value conforms, if it is normal about the estimate
}

// Check says what is wrong with a gate.
func (g Gate) Check() error {
	switch {
	case !finite(g.Limit):
		return fmt.Errorf("found limit %g, expected a number", g.Limit)
	case g.Side != AtMost && g.Side != AtLeast:
		return fmt.Errorf("found side %q, expected %q or %q", g.Side, AtMost, AtLeast)
	case g.Rule != FourWay && g.Rule != Guarded && g.Rule != Simple:
		return fmt.Errorf("found rule %q, expected %q, %q or %q", g.Rule, FourWay, Guarded, Simple)
	case !finite(g.K) || g.K < 0:
		return fmt.Errorf("found guard factor %g, expected 0 or more, such as 2", g.K)
	}
	return nil
}

// margin is how far inside the limit x lies.
func (g Gate) margin(x float64) float64 {
	if g.Side == AtMost {
		return g.Limit - x
	}
	return x - g.Limit
}

// Inside says whether x itself conforms, uncertainty left aside: for draws of a Monte Carlo run.
func (g Gate) Inside(x float64) bool { return g.margin(x) >= 0 }

// Decide gives the verdict on an estimate with its standard uncertainty. The edges of the band on the
// passing side pass; the one on the failing side fails. u = 0, as of a count, is never close: the limit
// itself is a plain pass. A value that is not a number gets an error, not a verdict.
func (g Gate) Decide(estimate, u float64) (Decision, error) {
	if err := g.Check(); err != nil {
		return Decision{}, err
	}
	if !finite(estimate, u, g.margin(estimate), g.K*u) || u < 0 {
		return Decision{}, fmt.Errorf("found estimate %g with standard uncertainty %g, expected numbers, the second 0 or more", estimate, u)
	}
	d := Decision{Margin: g.margin(estimate)}
	if g.Rule != Simple {
		d.Band = g.K * u
	}
	d.Conformance = below(0, d.Margin, u)
	switch {
	case d.Margin >= d.Band:
		d.Verdict = Pass
	case g.Rule == FourWay && d.Margin >= 0:
		d.Verdict = PassClose
	case g.Rule == FourWay && d.Margin > -d.Band:
		d.Verdict = FailClose
	default:
		d.Verdict = Fail
	}
	return d, nil
}

// Conformance returns the probability that a quantity estimated as a normal variable lies from lower to
// upper (JCGM 106:2012, 7.3 and 7.4); an infinite limit is none. With u = 0 it is 0 or 1.
func Conformance(estimate, u, lower, upper float64) (float64, error) {
	if !finite(estimate, u) || u < 0 {
		return 0, fmt.Errorf("found estimate %g with standard uncertainty %g, expected numbers, the second 0 or more", estimate, u)
	}
	if !(lower < upper) {
		return 0, fmt.Errorf("found limits %g and %g, expected the lower first", lower, upper)
	}
	return between(estimate, u, lower, upper), nil
}

// GuardFactor returns the K for which a value a guard band inside one limit conforms with probability p
// (JCGM 106:2012, Table 1): 1.645 for 0.95.
func GuardFactor(p float64) (float64, error) {
	if !(p >= 0.5 && p < 1) {
		return 0, fmt.Errorf("found probability %g, expected it from 0.5 to below 1, such as 0.95", p)
	}
	return distuv.UnitNormal.Quantile(p), nil
}

// between is the probability of a normal variable from lo to hi, taken from the tail that keeps digits.
func between(mean, sd, lo, hi float64) float64 {
	if sd == 0 {
		if lo <= mean && mean <= hi {
			return 1
		}
		return 0
	}
	if mean-lo > hi-mean {
		return below(mean, hi, sd) - below(mean, lo, sd)
	}
	return below(-mean, -lo, sd) - below(-mean, -hi, sd)
}

// below is the probability that a normal variable is at most x.
func below(mean, x, sd float64) float64 {
	switch {
	case sd > 0 && finite(x):
		return math.Erfc((mean-x)/sd/math.Sqrt2) / 2
	case x >= mean:
		return 1
	}
	return 0
}
