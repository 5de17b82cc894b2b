package gum

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		gate Gate
		x, u float64
		want Verdict
	}{
		{Gate{10, AtMost, FourWay, 2}, 7.9, 1, Pass},
		{Gate{10, AtMost, FourWay, 2}, 8, 1, Pass}, // the edge
		{Gate{10, AtMost, FourWay, 2}, 8.1, 1, PassClose},
		{Gate{10, AtMost, FourWay, 2}, 10, 1, PassClose},
		{Gate{10, AtMost, FourWay, 2}, 10.1, 1, FailClose},
		{Gate{10, AtMost, FourWay, 2}, 12, 1, Fail},
		{Gate{10, AtLeast, FourWay, 2}, 12, 1, Pass},
		{Gate{10, AtLeast, FourWay, 2}, 11.9, 1, PassClose},
		{Gate{10, AtLeast, FourWay, 2}, 9.9, 1, FailClose},
		{Gate{10, AtLeast, FourWay, 2}, 8, 1, Fail},
		{Gate{10, AtMost, Guarded, 2}, 8, 1, Pass},
		{Gate{10, AtMost, Guarded, 2}, 8.1, 1, Fail},
		{Gate{10, AtLeast, Guarded, 2}, 11.9, 1, Fail},
		{Gate{10, AtMost, Simple, 2}, 10, 1, Pass},
		{Gate{10, AtMost, Simple, 2}, 10.1, 1, Fail},
		{Gate{10, AtLeast, Simple, 0}, 9.9, 1, Fail},
		{Gate{0, AtMost, FourWay, 2}, 0, 0, Pass}, // no trip, of none allowed
		{Gate{0, AtMost, FourWay, 2}, 1, 0, Fail},
		{Gate{0, AtMost, Guarded, 2}, 0, 0, Pass},
		{Gate{3, AtLeast, FourWay, 2}, 3, 0, Pass},
		{Gate{10, AtMost, FourWay, 0}, 10.1, 1, Fail}, // no band
	} {
		d, err := c.gate.Decide(c.x, c.u)
		if err != nil || d.Verdict != c.want {
			t.Errorf("%+v at %g ± %g: %q, %v, want %q", c.gate, c.x, c.u, d.Verdict, err, c.want)
		}
		if d.Verdict.Passed() != (c.want == Pass || c.want == PassClose) || c.gate.Inside(c.x) != (d.Margin >= 0) {
			t.Errorf("%+v at %g: passed %v, inside %v, margin %g", c.gate, c.x, d.Verdict.Passed(), c.gate.Inside(c.x), d.Margin)
		}
	}
	d := must(Gate{10, AtLeast, FourWay, 2}.Decide(11, 0.4))
	if !near(d.Margin, 1, 1e-12) || !near(d.Band, 0.8, 1e-12) || !near(d.Conformance, distuv.UnitNormal.CDF(2.5), 1e-12) {
		t.Errorf("%+v, want margin 1, band 0.8, conformance 0.99379", d)
	}
	if PassClose.Close() != true || Pass.Close() || Fail.Close() || FailClose.Passed() {
		t.Error("which verdicts are close, or pass")
	}
}

func TestNoVerdictOnWhatIsNoNumber(t *testing.T) {
	good := Gate{10, AtMost, FourWay, 2}
	for _, c := range [][2]float64{{math.NaN(), 1}, {math.Inf(1), 1}, {math.Inf(-1), 1}, {1, math.NaN()}, {1, math.Inf(1)}, {1, -1}, {-1e308, 1e308}} {
		d, err := good.Decide(c[0], c[1])
		refused(t, "estimate", err)
		if d.Verdict != "" {
			t.Errorf("%v: verdict %q", c, d.Verdict)
		}
	}
	for name, g := range map[string]Gate{
		"limit": {math.NaN(), AtMost, FourWay, 2}, "side": {1, "below", FourWay, 2}, "rule": {1, AtMost, "", 2},
		"k": {1, AtMost, FourWay, -1}, "k NaN": {1, AtMost, FourWay, math.NaN()},
	} {
		_, err := g.Decide(1, 1)
		refused(t, name, err, "expected")
	}
	_, err := Conformance(1, 1, 5, 4)
	refused(t, "limits turned", err)
	_, err = Conformance(1, -1, 4, 5)
	refused(t, "negative u", err)
	_, err = GuardFactor(1)
	refused(t, "certainty", err)
	_, err = GlobalRisks(0, 1, 0, Interval{-1, 1}, Interval{-1, 1})
	refused(t, "no measurement uncertainty", err)
	_, err = GlobalRisks(0, 1, 1, Interval{1, -1}, Interval{-1, 1})
	refused(t, "tolerance turned", err)
}

// Far in a tail the probability keeps its digits; by symmetry both tails are alike.
func TestConformanceInTheTails(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range [][2]float64{
		{must(Conformance(0, 1, 10, inf)), 7.619853024160489e-24}, // scipy 1.10.1, stats.norm.sf(10)
		{must(Conformance(0, 1, -inf, -10)), 7.619853024160489e-24},
		{must(Conformance(0, 1, 10, 20)), 7.619853024160489e-24},
		{must(Conformance(0, 1, -20, -10)), 7.619853024160489e-24},
		{must(Conformance(3, 0, 3, 4)), 1}, {must(Conformance(3, 0, 3.1, 4)), 0}, {must(Conformance(0, 1, -inf, inf)), 1},
	} {
		if c[0] != c[1] && !near(c[0]/c[1], 1, 1e-9) {
			t.Errorf("%g, want %g", c[0], c[1])
		}
	}
}

// The quadrature against draws of its own definition, off centre and with one limit.
func TestRisksAgainstDraws(t *testing.T) {
	const n = 400_000
	tol, acc := Interval{-0.5, math.Inf(1)}, Interval{-0.2, math.Inf(1)}
	want := must(GlobalRisks(0.3, 1, 0.5, tol, acc))
	var r Risks
	src := NewPCG(3, 0)
	for range n {
		x := 0.3 + StandardNormal(src)
		good, taken := x >= tol.From, x+0.5*StandardNormal(src) >= acc.From
		switch {
		case good && !taken:
			r.Producer += 1. / n
		case !good && taken:
			r.Consumer += 1. / n
		}
		if good {
			r.Conforming += 1. / n
		}
	}
	if !near(r.Conforming, want.Conforming, 0.003) || !near(r.Consumer, want.Consumer, 0.002) || !near(r.Producer, want.Producer, 0.002) {
		t.Errorf("drawn %+v, by quadrature %+v", r, want)
	}
	// A measurement a thousand times sharper than the process: nearly no risk, and no panel missed.
	if s := must(GlobalRisks(0, 1, 0.001, Interval{-1, 1}, Interval{-1, 1})); s.Consumer > 0.0003 || s.Consumer < 0.0001 {
		t.Errorf("sharp measurement: %+v", s)
	}
}

// Over 1e5 random gates: the verdict does not know the unit of mass; a pass with a band conforms with a
// probability of at least Φ(k); the four are in order of the estimate; the rules agree where they must.
func TestGateProperties(t *testing.T) {
	src := NewPCG(11, 0)
	rank := map[Verdict]int{Fail: 0, FailClose: 1, PassClose: 2, Pass: 3}
	counts := map[Verdict]int{}
	for range 100_000 {
		limit, u, k := 1000*Uniform(src), 50*Uniform(src), 3*Uniform(src)
		x := limit + u*8*(Uniform(src)-0.5)
		side := []Side{AtMost, AtLeast}[src.Uint64()%2]
		d := must(Gate{limit, side, FourWay, k}.Decide(x, u))
		counts[d.Verdict]++
		for _, c := range []float64{1 / 28.349523125, 1 / 453.59237, 1e-3, 1e3, 7} {
			if s := must(Gate{limit * c, side, FourWay, k}.Decide(x*c, u*c)); s.Verdict != d.Verdict || !near(s.Conformance, d.Conformance, 1e-9) {
				t.Fatalf("limit %g, x %g, u %g, k %g: %+v; times %g %+v", limit, x, u, k, d, c, s)
			}
		}
		if d.Verdict == Pass && d.Conformance < distuv.UnitNormal.CDF(k)-1e-12 {
			t.Fatalf("pass at k %g conforms with %g", k, d.Conformance)
		}
		better := x - u/10
		if side == AtLeast {
			better = x + u/10
		}
		if b := must(Gate{limit, side, FourWay, k}.Decide(better, u)); rank[b.Verdict] < rank[d.Verdict] {
			t.Fatalf("%g is %q, the better %g %q", x, d.Verdict, better, b.Verdict)
		}
		guarded, simple := must(Gate{limit, side, Guarded, k}.Decide(x, u)), must(Gate{limit, side, Simple, k}.Decide(x, u))
		if (guarded.Verdict == Pass) != (d.Verdict == Pass) || simple.Verdict.Passed() != d.Verdict.Passed() {
			t.Fatalf("four-way %q, guarded %q, simple %q", d.Verdict, guarded.Verdict, simple.Verdict)
		}
	}
	for v := range rank {
		if counts[v] < 5000 {
			t.Errorf("%q only %d times: the cases do not reach it", v, counts[v])
		}
	}
}
