package rank

import (
	"math"
	"slices"
)

// fewDofs is up to how many distinct degrees of freedom each gets its own quantile; above, they are
// interpolated from nodeCount quantiles.
const (
	fewDofs   = 12
	nodeCount = 20
)

// critical returns the quantile p of the studentized range as a function of the degrees of freedom,
// for all that pairs of these units can have.
func critical(units []Estimate, order []int, p float64) func(dof float64) float64 {
	k := len(order)
	if k < 2 {
		return func(float64) float64 { return 0 }
	}
	seen := map[float64]float64{} // looked up only
	lo, hi := math.Inf(1), 0.0
	for i, u := range order {
		for _, v := range order[i+1:] {
			if _, dof := pair(units[u], units[v]); dof >= 1 {
				lo, hi = min(lo, dof), max(hi, dof)
				if len(seen) <= fewDofs {
					seen[dof] = 0
				}
			}
		}
	}
	if len(seen) > fewDofs {
		return interpolated(p, k, lo, hi)
	}
	for dof := range seen {
		seen[dof] = TukeyQuantile(p, k, dof)
	}
	return func(dof float64) float64 { return seen[dof] }
}

// bend is about where, in degrees of freedom, the quantile turns from a power law to a constant.
const bend = 3

// interpolated returns the quantile for lo <= dof <= hi by a polynomial of its logarithm in
// 1/(dof+bend) through Chebyshev points (barycentric form); relative error below 1e-6.
func interpolated(p float64, groups int, lo, hi float64) func(dof float64) float64 {
	mid, half := (1/(lo+bend)+1/(hi+bend))/2, (1/(lo+bend)-1/(hi+bend))/2
	if half < 1e-9*mid { // one and the same but for rounding
		q := TukeyQuantile(p, groups, lo)
		return func(float64) float64 { return q }
	}
	var x, y [nodeCount]float64
	for i := range x {
		x[i] = math.Cos(math.Pi * float64(i) / (nodeCount - 1))
		y[i] = math.Log(TukeyQuantile(p, groups, max(1/(mid+half*x[i])-bend, lo)))
	}
	return func(dof float64) float64 {
		at := (1/(dof+bend) - mid) / half
		if i := slices.Index(x[:], at); i >= 0 {
			return math.Exp(y[i])
		}
		num, den := 0.0, 0.0
		for i := range x {
			w := 1 / (at - x[i])
			if i%2 == 1 {
				w = -w
			}
			if i == 0 || i == nodeCount-1 {
				w /= 2
			}
			num += w * y[i]
			den += w
		}
		return math.Exp(num / den)
	}
}
