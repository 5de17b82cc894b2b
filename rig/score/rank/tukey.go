package rank

import "math"

// MaxGroups is the largest number of groups for which the studentized range was checked.
const MaxGroups = 1000

// TukeyCDF returns the probability that the studentized range of that many groups, with dof degrees
// of freedom for the standard deviation, is at most q: absolute error below 1e-10.
//
// groups is 2 to [MaxGroups], dof at least 1 and up to +Inf; anything else gives NaN.
//
// The double integral is that of Copenhaver and Holland (J. Statist. Comput. Simul. 30, 1988). Both
// integrals are taken by the trapezoidal rule over the whole line, the outer in the logarithm of the
// standard deviation: for such smooth, fast falling integrands it converges exponentially.
func TukeyCDF(q float64, groups int, dof float64) float64 {
	if !tukeyOK(groups, dof) || math.IsNaN(q) {
		return math.NaN()
	}
	return newTukey(groups, dof).cdf(q)
}

// TukeyQuantile returns the q that the studentized range exceeds with probability 1-p: relative error
// below 1e-6 for p from 0.001 to 0.9999. Arguments as for [TukeyCDF]; p outside 0 to 1 gives NaN.
func TukeyQuantile(p float64, groups int, dof float64) float64 {
	switch {
	case !tukeyOK(groups, dof) || math.IsNaN(p) || p < 0 || p > 1:
		return math.NaN()
	case p == 0:
		return 0
	case p == 1:
		return math.Inf(1)
	}
	return newTukey(groups, dof).quantile(p)
}

func tukeyOK(groups int, dof float64) bool {
	return groups >= 2 && groups <= MaxGroups && dof >= 1 // false for NaN
}

// normalNode is a point of the inner integral: z, its weight (groups * density * step) and Phi(z).
type normalNode struct{ z, weight, phi float64 }

// tukey is the distribution for one number of groups and one dof.
type tukey struct {
	groups int
	dof    float64
	step   float64 // of ln s, the outer variable
	nodes  []normalNode
}

const negligible = 1e-18 // of a total of 1: smaller terms are left out

func newTukey(groups int, dof float64) *tukey {
	k := float64(groups)
	if dof > 1e12 { // the same to 1e-11, and below what its density can be told apart at
		dof = math.Inf(1)
	}
	// Steps against the width of the integrands: the range of many normals is sharply peaked, and so
	// is s at many degrees of freedom. TestTukeySteps halves both and looks for a change.
	t := &tukey{groups: groups, dof: dof, step: 0.15 / (1 + 0.6*math.Log(k/2))}
	if s := 0.6 / math.Sqrt(2*dof); s < t.step {
		t.step = s
	}
	t.setNodes(0.35 / (1 + 0.3*math.Log(k/2)))
	return t
}

// setNodes lays the points of the inner integral.
func (t *tukey) setNodes(h float64) {
	t.nodes = nil
	for j := math.Floor(-9 / h); j*h <= 9; j++ {
		z := j * h
		n := normalNode{z: z, phi: phi(z)}
		n.weight = float64(t.groups) * h * math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
		if n.weight*power(n.phi, t.groups-1) > negligible {
			t.nodes = append(t.nodes, n)
		}
	}
}

// cdf integrates the range of standard normals over the distribution of s, whose logarithm x has a
// density in proportion to exp(dof*(x - exp(2x)/2)). The density is normalised by its own sum, which
// needs no gamma function and so holds for millions of degrees of freedom.
func (t *tukey) cdf(q float64) float64 {
	if q <= 0 {
		return 0
	}
	if math.IsInf(t.dof, 1) {
		return min(t.rangeCDF(q), 1)
	}
	density := func(x float64) float64 { return math.Exp(t.dof * (x - math.Expm1(2*x)/2)) }
	sum, mass := 0.0, 0.0
	for j := 1.0; ; j++ { // up; once the range is certain it stays so
		x := j * t.step
		d := density(x)
		if d < negligible {
			break
		}
		sum += d * t.rangeCDF(q*math.Exp(x))
		mass += d
	}
	zero := false
	for j := 0.0; ; j-- { // down; once the range is impossible it stays so
		x := j * t.step
		d := density(x)
		if d < negligible {
			break
		}
		mass += d
		if !zero {
			w := t.rangeCDF(q * math.Exp(x))
			sum += d * w
			zero = d*w < negligible
		}
	}
	return min(sum/mass, 1)
}

// rangeCDF returns the probability that the range of standard normals is at most w.
func (t *tukey) rangeCDF(w float64) float64 {
	if w > 18 { // beyond the two ends of the nodes: 1 to 1e-18
		return 1
	}
	sum := 0.0
	for _, n := range t.nodes {
		sum += n.weight * power(n.phi-phi(n.z-w), t.groups-1)
	}
	return sum
}

// quantile finds q in ln q and the logit of the probability, where the distribution is nearly a
// straight line, by regula falsi with the Illinois rule.
func (t *tukey) quantile(p float64) float64 {
	want := math.Log(p) - math.Log1p(-p)
	miss := func(x float64) float64 {
		c := t.cdf(math.Exp(x))
		c = min(max(c, 1e-300), 1-0x1p-53)
		return math.Log(c) - math.Log1p(-c) - want
	}
	a := math.Log(1.5 + math.Log(float64(t.groups)))
	fa := miss(a)
	stride := 0.25
	if fa > 0 {
		stride = -stride
	}
	b, fb := a+stride, miss(a+stride)
	for range 60 { // e^(0.25*2^n): far more than the widest quantile
		if (fa > 0) != (fb > 0) {
			break
		}
		stride *= 2
		a, fa = b, fb
		b += stride
		fb = miss(b)
	}
	for range 80 {
		x := b - fb*(b-a)/(fb-fa)
		fx := miss(x)
		if math.Abs(x-b) < 1e-10 || fx == 0 {
			return math.Exp(x)
		}
		if (fx > 0) != (fb > 0) {
			a, fa = b, fb
		} else {
			fa /= 2
		}
		b, fb = x, fx
	}
	return math.Exp(b)
}

// phi is the standard normal distribution.
func phi(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// power returns x to the n by squaring: n is whole and this is a third of the time of math.Pow.
func power(x float64, n int) float64 {
	r := 1.0
	for ; n > 0; n >>= 1 {
		if n&1 == 1 {
			r *= x
		}
		x *= x
	}
	return r
}
