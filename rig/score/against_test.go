package score

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"quern/config"
	"quern/rig"
	"quern/rig/score/rank"
)

// lines are the standings without places, for what hangs on points alone.
func lines(c *Campaign) *Standings {
	s := &Standings{Campaign: c}
	for _, u := range c.Units {
		s.Lines = append(s.Lines, Standing{Unit: u})
	}
	return s
}

func mustCompare(t testing.TB, old, new *Standings) []Move {
	t.Helper()
	moves, err := Against(old, new)
	if err != nil {
		t.Fatal(err)
	}
	return moves
}

// TestPartsAddUp: over random changes of the scorecard and of what was measured, the parts of every move
// are the move.
func TestPartsAddUp(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	base := threeTests(t)
	causes := map[rank.Cause]int{}
	n := 500
	if os.Getenv("QUERN_WHOLE") != "" {
		n = 3000
	}
	for range n {
		var records []rig.Record
		for i, u := range base.Units {
			records = append(records, anyRecord(r, u.ID, "one", i), anyRecord(r, u.ID, "two", 5+i))
		}
		old, l := anyLab(r, base), anyLab(r, base)
		for i := range l.Scorecard.Criteria {
			if k := &l.Scorecard.Criteria[i]; r.IntN(3) == 0 {
				k.Curve = slices.Clone(k.Curve)
				k.Curve[0].Points = 10 * r.Float64()
			}
		}
		if r.IntN(4) == 0 {
			l.Scorecard.Criteria[0].ID = "renamed"
		}
		again := slices.Clone(records)
		if r.IntN(2) == 0 {
			again[0] = anyRecord(r, base.Units[0].ID, "one", 0)
		}
		was := lines(mustScore(t, old, records))
		is := lines(mustScore(t, l, again))
		for i, m := range mustCompare(t, was, is) {
			a, b := was.Lines[i], is.Lines[i]
			if m.Old != a.Overall || m.New != b.Overall {
				t.Fatalf("%+v of %v, %v", m, a.Overall, b.Overall)
			}
			if !a.Ranked || !b.Ranked {
				if len(m.Parts) > 0 {
					t.Fatalf("parts of a move from or to nothing: %+v", m)
				}
				continue
			}
			sum := 0.0
			for _, p := range m.Parts {
				sum += p.Points
				causes[p.Cause]++
			}
			if !near(sum, b.Overall.V-a.Overall.V, 1e-12) || !near(m.Move.Old, a.Overall.V, 1e-12) || !near(m.Move.New, b.Overall.V, 1e-12) {
				t.Fatalf("parts add up to %.17g of %.17g: %+v", sum, b.Overall.V-a.Overall.V, m)
			}
		}
	}
	for _, k := range rank.Causes {
		if causes[k] == 0 {
			t.Errorf("no random case had the cause %s", k)
		}
	}
}

// TestCauses changes one thing at a time.
func TestCauses(t *testing.T) {
	times := func(a string) []rig.Record {
		return append(ofOutcome(Passed, 1, "one", a), ofOutcome(Passed, 2, "two", "25")...)
	}
	for _, c := range []struct {
		name    string
		change  func(*config.Lab)
		records []rig.Record
		want    map[string]float64 // "criterion cause"
	}{
		{"nothing", nil, times("50"), nil},
		// from 2/3 x 6 + 1/3 x 8 to 1/2 x 6 + 1/2 x 8
		{"a weight", func(l *config.Lab) { l.Scorecard.Tests[0].Weight = 1 }, times("50"), map[string]float64{"time weight": -1, "time2 weight": 4. / 3}},
		{"a curve", func(l *config.Lab) {
			l.Scorecard.Criteria[0].Curve = []config.Anchor{{At: 0, Points: 9}, {At: 100, Points: 1}}
		}, times("50"), map[string]float64{"time curve": -2. / 3}},
		{"a measure", nil, times("25"), map[string]float64{"time measure": 4. / 3}},
		{"a gate", func(l *config.Lab) { l.Procedures[0].Gates[0].Limit = 40 }, times("50"), map[string]float64{"time gate": -10. / 3}},
		{"a failed run", nil, append(ofOutcome(Failed, 1, "one", ""), ofOutcome(Passed, 2, "two", "25")...), map[string]float64{"time gate": -10. / 3}},
		{"a criterion", func(l *config.Lab) { l.Scorecard.Criteria[0].ID = "new" }, times("50"), map[string]float64{"time removed": -4, "new added": 4}},
		{"the measure it judges", func(l *config.Lab) { l.Scorecard.Criteria[0].Measure = "elapsed_s" }, []rig.Record{told("unit-a", 1, "measure.elapsed_s=25", "measure.run_time_s=50"), times("50")[1]}, map[string]float64{"time points": 4. / 3}},
		{"points of the mean", func(l *config.Lab) { l.Scorecard.PointsOf = "mean" }, times("50"), nil},
		// curve and measure together, by the mean over both orders: 6 to 8 or to 5 first, then to 7.5
		{"both", func(l *config.Lab) { l.Scorecard.Criteria[0].Curve[1].Points = 0 }, times("25"), map[string]float64{"time curve": 2. / 3 * ((5. - 6) + (7.5 - 8)) / 2, "time measure": 2. / 3 * ((8. - 6) + (7.5 - 5)) / 2}},
	} {
		was := lines(mustScore(t, twoTests(t, "reweight"), times("50")))
		l := twoTests(t, "reweight")
		if c.change != nil {
			c.change(l)
		}
		m := mustCompare(t, was, lines(mustScore(t, l, c.records)))[0]
		got := map[string]float64{}
		for _, p := range m.Parts {
			got[fmt.Sprint(p.ID, " ", p.Cause)] = p.Points
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
		for k, v := range c.want {
			if !near(got[k], v, 1e-12) {
				t.Errorf("%s: %s: got %g, want %g", c.name, k, got[k], v)
			}
		}
		if changed := len(m.Criteria) > 0; changed != (c.name == "a measure" || c.name == "a failed run" || c.name == "both" || c.name == "the measure it judges") {
			t.Errorf("%s: measures %+v", c.name, m.Criteria)
		}
	}
}

// TestCauseOfFloors: a run that the majority rule lets pass keeps its floor under either curve.
func TestCauseOfFloors(t *testing.T) {
	lab := func(curve float64) *config.Lab {
		l := testLab(t)
		l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 50, "majority")}
		l.Scorecard.Criteria[0].Curve[0].Points = curve
		return l
	}
	records := timed("unit-a 10 20 70")
	m := mustCompare(t, lines(mustScore(t, lab(10), records)), lines(mustScore(t, lab(5), records)))[0]
	// 9 + 8 + 0 to 4.5 + 4 + 0
	if len(m.Parts) != 1 || m.Parts[0].Cause != rank.CauseCurve || !near(m.Parts[0].Points, -8.5/3, 1e-12) {
		t.Errorf("%+v", m.Parts)
	}
}

func TestComingAndGoing(t *testing.T) {
	a := withUnits(testLab(t), "unit-a", "unit-b", "unit-c")
	b := withUnits(testLab(t), "unit-b", "unit-c", "unit-d")
	was := mustRank(t, mustScore(t, a, timed("unit-a 10", "unit-b 20")))
	is := mustRank(t, mustScore(t, b, timed("unit-b 30", "unit-c 20", "unit-d 90")))
	got := map[string]Move{}
	for _, m := range mustCompare(t, was, is) {
		got[m.Unit] = m
	}
	for unit, want := range map[string][2]int{"unit-a": {1, 0}, "unit-b": {2, 2}, "unit-c": {0, 1}, "unit-d": {0, 3}} {
		m := got[unit]
		if m.OldPlace != want[0] || m.NewPlace != want[1] || m.Old.OK != (want[0] > 0) || m.New.OK != (want[1] > 0) || (len(m.Parts) > 0) != (unit == "unit-b") {
			t.Errorf("%s: %+v", unit, m)
		}
		if !m.Old.OK && m.Old.Why == "" || !m.New.OK && m.New.Why == "" {
			t.Errorf("%s: nothing without a reason: %+v", unit, m)
		}
	}
	if m := got["unit-b"]; len(m.Criteria) != 1 || m.Criteria[0].Old.V != 20 || m.Criteria[0].New.V != 30 || !(math.Abs(m.New.V-m.Old.V+1) <= 1e-12) {
		t.Errorf("%+v", m)
	}
}
