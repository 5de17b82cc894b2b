package score

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"quern/rig"
)

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
		{with(func(w *rig.Weighing) { w.GrossG, w.Vessel, w.TareG = rig.Fig(1), "bucket", rig.Figure{} }), "weighing 2 (chamber) gives no net mass: no tare", 0},
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

// TestWhichRun: three runs of one session, at 100-160, 300-360 and 500-560 s. Leftovers of 50 s were weighed afterwards, by a
// clock that had stepped back.
func TestWhichRun(t *testing.T) {
	for _, c := range []struct {
		role rig.Role
		atS  float64
		run  int // as recorded
		want int
	}{
		{rig.Charge, 50, 0, 1}, {rig.Charge, 150, 0, 1}, {rig.Charge, 161, 0, 2}, {rig.Charge, 299, 0, 2}, {rig.Charge, 400, 0, 3}, {rig.Charge, 900, 0, 3},
		{rig.Chamber, 50, 0, 3}, {rig.Chamber, 170, 0, 1}, {rig.Chamber, 299, 0, 1}, {rig.Chamber, 300, 0, 2}, {rig.Chamber, 499, 0, 2}, {rig.Chamber, 9000, 0, 3},
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
