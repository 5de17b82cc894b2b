package score

import (
	"fmt"
	"math"
	"testing"

	"quern/rig"
	"quern/rig/score/gum"
)

// everything is one weighing of all that the test procedure weighs: 1000 g in, 50 left, 20 and 200 on the sieves.
func everything() []rig.Weighing {
	return []rig.Weighing{net(rig.Charge, "", 1000), net(rig.Chamber, "", 50), net(rig.Coarse, "", 20), net(rig.Fine, "", 200)}
}

// TestMassesByHand: in class III with e = 1 g in service the permitted error is 1 g to 500 g and 2 g to
// 2000 g of gross load (OIML R 76-1 Table 6, twice); both readings have a step of 1 g and repeat to 0.5 g:
// 2*(1/12 + 1/4) = 2/3 g2.
func TestMassesByHand(t *testing.T) {
	r := only(t, testLab(t), weighed(everything()...))
	same(t, "input_g", r.Measure("input_g"), 1000, math.Sqrt(4./3+2./3))
	same(t, "left_g", r.Measure("left_g"), 50, math.Sqrt(1./3+2./3+4+1))
	same(t, "coarse_g", r.Measure("coarse_g"), 20, math.Sqrt(1./3+2./3+4+1+1))
	same(t, "fine_g", r.Measure("fine_g"), 200, math.Sqrt(4./3+2./3+4+1+1))
	lacks(t, "passed_g", r.Measure("passed_g").Figure, "not-weighed")
	same(t, "left_share", r.Measure("left_share"), 0.05, math.Sqrt(6+0.0025*2)/1000)
	same(t, "discharge_g", r.Measure("discharge_g"), 950, math.Sqrt(8))
	same(t, "coarse_share", r.Measure("coarse_share"), 20./950, math.Sqrt(7+square(20./950)*8)/950)
	same(t, "fine_share", r.Measure("fine_share"), 200./950, math.Sqrt(8+square(200./950)*8)/950)
	same(t, "sizeable_share", r.Measure("sizeable_share"), 220./950, math.Sqrt(15+square(220./950)*8)/950)
	same(t, "coarse_of_input", r.Measure("coarse_of_input"), 0.02, math.Sqrt(7+0.0004*2)/1000)
	same(t, "fine_of_input", r.Measure("fine_of_input"), 0.2, math.Sqrt(8+0.04*2)/1000)
	same(t, "recovered_share", r.Measure("recovered_share"), 0.27, math.Sqrt(6+7+8+0.27*0.27*2)/1000)
}

// TestSharesPropagate compares every share with numeric propagation (JCGM 100, 5.1.2).
func TestSharesPropagate(t *testing.T) {
	const in, left, c, f, p = 0, 1, 2, 3, 4
	dry := func(x []float64) float64 { return x[in] - x[left] }
	wet := func(x []float64) float64 { return x[c] + x[f] + x[p] }
	for _, passed := range []bool{false, true} {
		out := dry
		if passed {
			out = wet
		}
		for name, share := range map[string]func(x []float64) float64{
			"left_share":      func(x []float64) float64 { return x[left] / x[in] },
			"discharge_g":     out,
			"coarse_share":    func(x []float64) float64 { return x[c] / out(x) },
			"fine_share":      func(x []float64) float64 { return x[f] / out(x) },
			"sizeable_share":  func(x []float64) float64 { return (x[c] + x[f]) / out(x) },
			"coarse_of_input": func(x []float64) float64 { return x[c] / x[in] },
			"fine_of_input":   func(x []float64) float64 { return x[f] / x[in] },
			"recovered_share": func(x []float64) float64 {
				if passed {
					return (x[left] + wet(x)) / x[in]
				}
				return (x[left] + x[c] + x[f]) / x[in]
			},
		} {
			l := testLab(t)
			l.Procedures[0].After.Passed = passed
			ws := append(everything(), net(rig.Passed, "", 640))
			r := only(t, l, weighed(ws...))
			var x, u []float64
			for _, mass := range massNames {
				v := r.Measure(mass)
				x, u = append(x, v.V), append(u, v.U)
			}
			want, err := gum.Propagate(share, x, u, nil)
			if err != nil {
				t.Fatal(err)
			}
			if got := r.Measure(name); !near(got.V, want.Y, 1e-12*want.Y) || !near(got.U, want.U, 1e-8*want.U) {
				t.Errorf("%s, passed weighed %v: got %.12g ±%.12g, want %.12g ±%.12g", name, passed, got.V, got.U, want.Y, want.U)
			}
		}
	}
}

// TestDischargeOfOneSieve: what a procedure does not weigh is no part of what it collects.
func TestDischargeOfOneSieve(t *testing.T) {
	l := testLab(t)
	l.Procedures[0].After.Passed, l.Procedures[0].After.FineSieveMM = true, 0
	r := only(t, l, weighed(net(rig.Charge, "", 1000), net(rig.Chamber, "", 50), net(rig.Coarse, "", 20), net(rig.Passed, "", 780)))
	same(t, "discharge_g", r.Measure("discharge_g"), 800, math.Sqrt(7+4./3+2./3+5))
	if v := r.Measure("coarse_share"); !near(v.V, 0.025, 1e-12) {
		t.Errorf("coarse_share: got %v", v.Figure)
	}
	lacks(t, "fine_share", r.Measure("fine_share").Figure, "fine-not-weighed")
}

// TestCommonPractice: figures of the trade (common practice, no source).
func TestCommonPractice(t *testing.T) {
	const oz = 28.349523125 // g
	l := testLab(t)
	r := only(t, l, weighed(net(rig.Charge, "", 49*oz), net(rig.Chamber, "", 8.5*oz)))
	if got := fmt.Sprintf("%.1f %%", 100*r.Measure("left_share").V); got != "17.3 %" {
		t.Errorf("8.5 oz left of 49 oz: got %s, want 17.3 %%", got)
	}
	l.Procedures[0].After.Chamber = true
	r = only(t, l, weighed(net(rig.Charge, "", 1100), net(rig.Chamber, "", 100), net(rig.Coarse, "", 150), net(rig.Fine, "", 240)))
	if v := r.Measure("sizeable_share"); !near(v.V, 0.39, 1e-12) {
		t.Errorf("layers of 15 %% and 24 %%: got %v, want 0.39", v.Figure)
	}
}

func TestCharge(t *testing.T) {
	peel, rice := net(rig.Charge, "peel", 605), net(rig.Charge, "rice", 390)
	itemU := math.Sqrt(4./3 + 2./3)
	for _, c := range []struct {
		name  string
		ws    []rig.Weighing
		input float64
		u     float64
		why   string
		said  string
	}{
		{name: "items are added", ws: []rig.Weighing{peel, rice}, input: 995, u: math.Sqrt2 * itemU, said: "rice: 390 g weighed in, 400 ±5 g wanted"},
		{name: "the whole, weighed last", ws: []rig.Weighing{peel, rice, net(rig.Charge, "", 990)}, input: 990, u: itemU},
		{name: "the items, weighed last", ws: []rig.Weighing{net(rig.Charge, "", 990), peel, rice}, input: 995, u: math.Sqrt2 * itemU},
		{name: "an item weighed again", ws: []rig.Weighing{peel, rice, net(rig.Charge, "rice", 400)}, input: 1005, u: math.Sqrt2 * itemU},
		{name: "the whole alone", ws: []rig.Weighing{net(rig.Charge, "", 990)}, input: 990, u: itemU},
		{name: "an item missing", ws: []rig.Weighing{peel}, why: "item-not-weighed: rice"},
		{name: "an item missing after the whole", ws: []rig.Weighing{net(rig.Charge, "", 990), peel}, why: "item-not-weighed: rice"},
		{name: "one more than the recipe", ws: []rig.Weighing{peel, rice, net(rig.Charge, "core", 100)}, input: 1095, u: math.Sqrt(2 + 2 + 4./3 + 2./3), said: "core is not in the recipe"},
		{name: "dry in what has a wet tare too", ws: []rig.Weighing{{Role: rig.Charge, GrossG: rig.Fig(1338), Vessel: "sieve-coarse"}}, input: 1000, u: itemU},
		{name: "nothing", why: "not-weighed"},
		{name: "an item below nothing", ws: []rig.Weighing{net(rig.Charge, "peel", -20), rice}, why: "item-not-weighed: peel (negative-net)"},
		{name: "a whole below nothing", ws: []rig.Weighing{net(rig.Charge, "", -20)}, why: "negative-net"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := only(t, testLab(t), weighed(append(c.ws, net(rig.Chamber, "", 50))...))
			if c.why != "" {
				lacks(t, "input_g", r.Measure("input_g").Figure, c.why)
				lacks(t, "left_share", r.Measure("left_share").Figure, "charge-"+c.why)
				return
			}
			same(t, "input_g", r.Measure("input_g"), c.input, c.u)
			if c.said != "" && !remarked(r, c.said) {
				t.Errorf("remarks %q, want %q", r.Remarks, c.said)
			}
		})
	}
}

// TestHeavyLoads: the permitted error rises with the gross load, and beyond the class it stays at its last step.
func TestHeavyLoads(t *testing.T) {
	for _, c := range []struct{ net, u2 float64 }{
		{88, 1./3 + 2./3}, {89, 4./3 + 2./3}, {1588, 4./3 + 2./3}, {1589, 3 + 2./3}, {9588, 3 + 2./3}, {20000, 3 + 2./3},
	} {
		r := only(t, testLab(t), weighed(net(rig.Charge, "", c.net)))
		same(t, fmt.Sprint(c.net), r.Measure("input_g"), c.net, math.Sqrt(c.u2))
	}
	l := testLab(t)
	l.Bench.Scale.VerificationG, l.Bench.Scale.DivisionG = 0, 2 // e = d = 2 g: 4 g permitted of 1412 g (706 e)
	r := only(t, l, weighed(net(rig.Charge, "", 1000)))
	same(t, "e by the division", r.Measure("input_g"), 1000, math.Sqrt(16./3+2*(4./12+0.25)))
	l.Bench.Scale.VerificationG, l.Bench.Scale.DivisionG = 5, 1 // 5 g permitted of 1412 g (282 e)
	r = only(t, l, weighed(net(rig.Charge, "", 1000)))
	same(t, "e by the mark", r.Measure("input_g"), 1000, math.Sqrt(25./3+2./3))
}

func TestOutAgainstIn(t *testing.T) {
	for _, c := range []struct {
		name               string
		passed             bool
		in, left, c, f, p  float64
		want               string
		recovered, percent float64
	}{
		{name: "swollen", passed: true, in: 1000, left: 50, c: 20, f: 200, p: 930, want: "more out than in (120 %): food takes up water", recovered: 1.2},
		{name: "too much", passed: true, in: 1000, left: 50, c: 20, f: 200, p: 1130, want: "140 % of the input was weighed afterwards", recovered: 1.4},
		{name: "lost", passed: true, in: 1000, left: 50, c: 20, f: 200, p: 130, want: "only 40 % of the input was found again", recovered: 0.4},
		{name: "not all is weighed", in: 1000, left: 50, c: 20, f: 200, recovered: 0.27},
		{name: "just so", passed: true, in: 1000, left: 50, c: 20, f: 200, p: 730, recovered: 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := testLab(t)
			l.Procedures[0].After.Passed = c.passed
			ws := []rig.Weighing{net(rig.Charge, "", c.in), net(rig.Chamber, "", c.left), net(rig.Coarse, "", c.c), net(rig.Fine, "", c.f)}
			if c.p > 0 {
				ws = append(ws, net(rig.Passed, "", c.p))
			}
			r := only(t, l, weighed(ws...))
			if v := r.Measure("recovered_share"); !near(v.V, c.recovered, 1e-12) {
				t.Errorf("recovered: got %v, want %g", v.Figure, c.recovered)
			}
			if c.want != "" && !remarked(r, c.want) || c.want == "" && (remarked(r, "input") || remarked(r, "out than in")) {
				t.Errorf("remarks %q, want %q", r.Remarks, c.want)
			}
		})
	}
	r := only(t, testLab(t), weighed(net(rig.Charge, "", 0), net(rig.Chamber, "", 50)))
	lacks(t, "share of nothing", r.Measure("left_share").Figure, "nothing-to-divide-by")
}
