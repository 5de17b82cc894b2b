package score

import (
	"fmt"
	"math"
	"slices"
	"strings"
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

func TestWhichWeighingCounts(t *testing.T) {
	shaken := net(rig.Chamber, "", 70)
	shaken.Shaken = true
	early := shaken
	early.GrossG = rig.Fig(412 + 66)
	bare := rig.Weighing{Role: rig.Chamber, GrossG: rig.Fig(500), Vessel: "bucket"}
	charge := net(rig.Charge, "", 1000)
	for _, c := range []struct {
		name  string
		ws    []rig.Weighing
		facts []string
		left  float64 // 0: absent
		why   string
		typed bool
	}{
		{name: "the last counts", ws: []rig.Weighing{charge, net(rig.Chamber, "", 50), net(rig.Chamber, "", 60)}, left: 60},
		{name: "withdrawn", ws: []rig.Weighing{charge, net(rig.Chamber, "", 50), net(rig.Chamber, "", 60)}, facts: []string{"weighing.3=withdrawn"}, left: 50},
		{name: "both withdrawn", ws: []rig.Weighing{charge, net(rig.Chamber, "", 50), net(rig.Chamber, "", 60)}, facts: []string{"weighing.3=withdrawn", "weighing.2=withdrawn"}, why: "not-weighed"},
		{name: "corrected", ws: []rig.Weighing{charge, net(rig.Chamber, "", 50)}, facts: []string{"weighing.2=55"}, left: 55, typed: true},
		{name: "of corrections the last counts", ws: []rig.Weighing{charge, net(rig.Chamber, "", 50)}, facts: []string{"weighing.2=withdrawn", "weighing.2=55", "weighing.2=56"}, left: 56, typed: true},
		{name: "withdrawn after all", ws: []rig.Weighing{charge, net(rig.Chamber, "", 50)}, facts: []string{"weighing.2=55", "weighing.2=withdrawn"}, why: "not-weighed"},
		{name: "shaken does not replace", ws: []rig.Weighing{charge, net(rig.Chamber, "", 50), shaken}, left: 50},
		{name: "at rest replaces shaken", ws: []rig.Weighing{charge, shaken, net(rig.Chamber, "", 50)}, left: 50},
		{name: "shaken if there is no other", ws: []rig.Weighing{charge, early, shaken}, left: 70},
		{name: "without a net the one before counts", ws: []rig.Weighing{charge, net(rig.Chamber, "", 50), bare}, left: 50},
		{name: "no tare", ws: []rig.Weighing{charge, bare}, why: "no-tare"},
		{name: "no mass", ws: []rig.Weighing{charge, {Role: rig.Chamber, TareG: rig.Fig(412)}}, why: "no-mass"},
		{name: "net as given", ws: []rig.Weighing{charge, {Role: rig.Chamber, NetG: rig.Fig(44), GrossG: rig.Fig(500), TareG: rig.Fig(412)}}, left: 44},
		{name: "no vessel", ws: []rig.Weighing{charge, {Role: rig.Chamber, GrossG: rig.Fig(48)}}, left: 48},
		{name: "wet tare of the register", ws: []rig.Weighing{charge, {Role: rig.Chamber, GrossG: rig.Fig(400), Vessel: "sieve-coarse"}}, left: 400 - 351},
		{name: "dry tare of a bowl", ws: []rig.Weighing{charge, {Role: rig.Chamber, GrossG: rig.Fig(462), Vessel: "bowl-1"}}, left: 50},
		{name: "tare weighed empty before", ws: []rig.Weighing{charge, {Role: rig.Empty, GrossG: rig.Fig(355), Vessel: "sieve-coarse"}, {Role: rig.Chamber, GrossG: rig.Fig(400), Vessel: "sieve-coarse"}}, left: 45},
		{name: "not of another vessel", ws: []rig.Weighing{charge, {Role: rig.Empty, GrossG: rig.Fig(355), Vessel: "sieve-fine"}, {Role: rig.Chamber, GrossG: rig.Fig(400), Vessel: "sieve-coarse"}}, left: 49},
		{name: "not weighed empty after", ws: []rig.Weighing{charge, {Role: rig.Chamber, GrossG: rig.Fig(400), Vessel: "sieve-coarse"}, {Role: rig.Empty, GrossG: rig.Fig(355), Vessel: "sieve-coarse"}}, left: 49},
		{name: "empty withdrawn", ws: []rig.Weighing{charge, {Role: rig.Empty, GrossG: rig.Fig(355), Vessel: "sieve-coarse"}, {Role: rig.Chamber, GrossG: rig.Fig(400), Vessel: "sieve-coarse"}}, facts: []string{"weighing.2=withdrawn"}, left: 49},
		{name: "tare given goes before", ws: []rig.Weighing{charge, {Role: rig.Empty, GrossG: rig.Fig(355), Vessel: "sieve-coarse"}, {Role: rig.Chamber, GrossG: rig.Fig(400), TareG: rig.Fig(350), Vessel: "sieve-coarse"}}, left: 50},
		{name: "below one division half of it", ws: []rig.Weighing{charge, net(rig.Chamber, "", 0.4)}, left: 0.5},
		{name: "nothing at all too", ws: []rig.Weighing{charge, net(rig.Chamber, "", 0)}, left: 0.5},
		{name: "a little below nothing too", ws: []rig.Weighing{charge, net(rig.Chamber, "", -4)}, left: 0.5},
		{name: "one division is one", ws: []rig.Weighing{charge, net(rig.Chamber, "", 1)}, left: 1},
		{name: "negative beyond 2 u = 4.9 g", ws: []rig.Weighing{charge, net(rig.Chamber, "", -5)}, why: "negative-net"},
		{name: "typed", ws: []rig.Weighing{charge, {Role: rig.Chamber, NetG: rig.Fig(51), Typed: true}}, left: 51, typed: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := only(t, testLab(t), say(weighed(c.ws...), c.facts...))
			left, share := r.Measure("left_g"), r.Measure("left_share")
			if c.left == 0 {
				lacks(t, "left_g", left.Figure, c.why)
				lacks(t, "left_share", share.Figure, "chamber-"+c.why)
				return
			}
			if !near(left.V, c.left, 1e-9) || !left.OK || !near(share.V, c.left/1000, 1e-12) {
				t.Errorf("left: got %v, share %v, want %g", left, share.Figure, c.left)
			}
			if left.Typed != c.typed || share.Typed != c.typed {
				t.Errorf("typed: got %v, of the share %v, want %v", left.Typed, share.Typed, c.typed)
			}
			if half := left.Note != ""; half != (c.left == 0.5) || share.Note != left.Note {
				t.Errorf("note: got %q, of the share %q", left.Note, share.Note)
			}
			if len(r.Applied) != len(c.facts) {
				t.Errorf("%d corrections said, want %d", len(r.Applied), len(c.facts))
			}
		})
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

func TestItems(t *testing.T) {
	r := only(t, testLab(t), weighed(net(rig.Charge, "peel", 610), net(rig.Charge, "core", 7)))
	var got []string
	for _, it := range r.Items() {
		got = append(got, fmt.Sprint(it.Name, it.Net.V, it.Net.OK, it.Off, it.Net.Why))
	}
	want := []string{"peel610 true false", "rice0 false falsenot-weighed", "core7 true false"}
	if strings.Join(got, ",") != strings.Join(want, ",") {
		t.Errorf("got %v, want %v", got, want)
	}
	if r = only(t, testLab(t), weighed(net(rig.Charge, "peel", 589))); !r.Items()[0].Off {
		t.Error("589 g of 600 ±10 g is not off")
	}
}

// TestTurns: a vessel that waited while others were weighed is late only after its turn, as the daemon has it.
func TestTurns(t *testing.T) {
	at := func(role rig.Role, drainedS, beganS float64) rig.Weighing {
		w := net(role, "", 50)
		w.AtS, w.DrainedS = beganS+drainedS, rig.Fig(drainedS)
		return w
	}
	typed := func(w rig.Weighing) rig.Weighing { w.Typed = true; return w }
	for _, c := range []struct {
		name string
		all  []rig.Weighing
		late string // numbers of the weighings; the charge is 1
	}{
		{"one after the other", []rig.Weighing{at(rig.Chamber, 125, 300.1), at(rig.Coarse, 144, 300.1), at(rig.Fine, 163, 300.1)}, ""},
		{"a pause before the last", []rig.Weighing{at(rig.Chamber, 125, 300), at(rig.Coarse, 144, 300), at(rig.Fine, 164.1, 300)}, "4"},
		{"the first too late", []rig.Weighing{at(rig.Chamber, 141, 300), at(rig.Coarse, 161, 300), at(rig.Fine, 182, 300)}, "2 4"},
		{"the chamber once more", []rig.Weighing{at(rig.Chamber, 125, 300), at(rig.Coarse, 144, 300), at(rig.Chamber, 150, 300), at(rig.Fine, 169, 300)}, "4"},
		{"a timer each", []rig.Weighing{at(rig.Chamber, 125, 300), at(rig.Coarse, 144, 310), at(rig.Fine, 139, 320)}, "3"},
		{"typed in", []rig.Weighing{typed(at(rig.Chamber, 125, 300)), typed(at(rig.Coarse, 144, 300))}, "3"},
	} {
		r := only(t, testLab(t), weighed(append([]rig.Weighing{net(rig.Charge, "", 1000)}, c.all...)...))
		var late []string
		for _, text := range r.Remarks {
			if strings.Contains(text, "read late") {
				late = append(late, strings.Fields(text)[1])
			}
			if strings.Contains(text, "read early") {
				t.Errorf("%s: %s", c.name, text)
			}
		}
		slices.Sort(late)
		if got := strings.Join(late, " "); got != c.late {
			t.Errorf("%s: late are %q, want %q", c.name, got, c.late)
		}
	}
}

func TestRemarksOnWeighings(t *testing.T) {
	with := func(change func(*rig.Weighing)) rig.Weighing {
		w := net(rig.Chamber, "", 50)
		change(&w)
		return w
	}
	for _, c := range []struct {
		w    rig.Weighing
		want string // "": none
		u2   float64
	}{
		{with(func(w *rig.Weighing) { w.DrainedS = rig.Fig(100) }), "", 6},
		{with(func(w *rig.Weighing) { w.DrainedS = rig.Fig(99) }), "weighing 2 (chamber): read early, after 99 s of draining instead of 120 s", 6},
		{with(func(w *rig.Weighing) { w.DrainedS = rig.Fig(141) }), "weighing 2 (chamber): read late", 6},
		{with(func(w *rig.Weighing) { w.Stable = rig.No }), "did not call it stable", 6},
		{with(func(w *rig.Weighing) { w.Typed = true }), "typed in", 6},
		{with(func(w *rig.Weighing) { w.Shaken = true }), "taken while the motor ran", 6},
		{with(func(w *rig.Weighing) { w.Shaken, w.SpreadG = true, rig.Fig(12) }), "taken while the motor ran", 6 + 36./3},
		{with(func(w *rig.Weighing) { w.GrossG, w.Vessel, w.TareG = rig.Fig(1), "bucket", rig.Figure{} }), "weighing 2 (chamber) gives no net mass: no-tare", 0},
	} {
		r := only(t, testLab(t), weighed(net(rig.Charge, "", 1000), c.w))
		for _, text := range r.Remarks {
			if c.want == "" && strings.HasPrefix(text, "weighing") {
				t.Errorf("remark %q, want none", text)
			}
		}
		if !remarked(r, c.want) {
			t.Errorf("remarks %q, want %q", r.Remarks, c.want)
		}
		if c.u2 > 0 {
			same(t, c.want, r.Measure("left_g"), 50, math.Sqrt(c.u2))
		}
	}
	charge := net(rig.Charge, "", 1000)
	charge.DrainedS = rig.Fig(1)
	if r := only(t, testLab(t), weighed(charge)); remarked(r, "drain") {
		t.Errorf("a charge does not drain: %q", r.Remarks)
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

// TestWhichRun: three runs of one session, at 100-160, 300-360 and 500-560 s.
func TestWhichRun(t *testing.T) {
	for _, c := range []struct {
		role rig.Role
		atS  float64
		run  int // as recorded
		want int
	}{
		{rig.Charge, 50, 0, 1}, {rig.Charge, 150, 0, 1}, {rig.Charge, 161, 0, 2}, {rig.Charge, 299, 0, 2}, {rig.Charge, 400, 0, 3}, {rig.Charge, 900, 0, 3},
		{rig.Chamber, 50, 0, 1}, {rig.Chamber, 170, 0, 1}, {rig.Chamber, 299, 0, 1}, {rig.Chamber, 300, 0, 2}, {rig.Chamber, 499, 0, 2}, {rig.Chamber, 9000, 0, 3},
		{rig.Charge, 50, 2, 2}, {rig.Chamber, 9000, 1, 1}, {rig.Chamber, 9000, 4, 4},
	} {
		w := net(c.role, "", 77)
		w.AtS, w.Run = c.atS, c.run
		rec := weighed(w)
		rec.Result.Runs = nil
		for _, s := range []float64{100, 300, 500} {
			rec.Result.Runs = append(rec.Result.Runs, rig.Run{StartS: rig.Fig(s), EndS: rig.Fig(s + 60)})
		}
		m := mustScore(t, testLab(t), []rig.Record{rec})
		for _, r := range m.Runs {
			name := map[rig.Role]string{rig.Charge: "input_g", rig.Chamber: "left_g"}[c.role]
			if got := r.Measure(name).OK; got != (r.N == c.want) {
				t.Errorf("%s at %g s said to be of run %d: in run %d %v, want in %d", c.role, c.atS, c.run, r.N, got, c.want)
			}
		}
		if want := max(3, c.run); len(m.Runs) != want {
			t.Errorf("%d runs, want %d", len(m.Runs), want)
		}
	}
}
