package score

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

// twoTests is the test lab with a second procedure and test, of half the weight of the first. Curves end
// at 2 points, a failed test counts 1.
func twoTests(t testing.TB, missing string) *config.Lab {
	l := testLab(t)
	l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 100, "any")}
	two := l.Procedures[0]
	two.ID = "two"
	l.Procedures = append(l.Procedures, two)
	l.Scorecard.Missing = missing
	l.Scorecard.Tests = []config.Test{{ID: "grind", Title: "First", Procedure: "one", Weight: 2, Gated: true, FailedPoints: 1}, {ID: "bones", Title: "Second", Procedure: "two", Weight: 1, Gated: true, FailedPoints: 1}}
	l.Scorecard.Criteria = []config.Criterion{linear("time", "grind", "run_time_s", 0, 10, 100, 2), linear("time2", "bones", "run_time_s", 0, 10, 100, 2)}
	return l
}

var outcomes = []Outcome{Passed, Failed, IsVoid, NotTested, NotMeasurable}

// ofOutcome is a record that brings a test about with that outcome; nil for none.
func ofOutcome(o Outcome, n int, procedure, time string) []rig.Record {
	facts := map[Outcome][]string{Passed: {"measure.run_time_s=" + time}, Failed: {"measure.run_time_s=300"}, IsVoid: {"void=rig", "measure.run_time_s=" + time}, NotMeasurable: {"measure.run_time_s=absent"}}[o]
	if facts == nil {
		return nil
	}
	return []rig.Record{told("unit-a", n, append(facts, "procedure="+procedure)...)}
}

// TestOutcomesNeverMix follows every pair of outcomes through to the total, by every rule for what is missing.
func TestOutcomesNeverMix(t *testing.T) {
	for _, missing := range []string{"reweight", "worst", "unranked"} {
		for _, a := range outcomes {
			for _, b := range outcomes {
				u := mustScore(t, twoTests(t, missing), append(ofOutcome(a, 1, "one", "50"), ofOutcome(b, 2, "two", "25")...)).Unit("unit-a")
				name := fmt.Sprintf("%s: %s and %s", missing, a, b)
				sum, of, absent, some := 0.0, 0.0, 0, false
				for i, o := range []Outcome{a, b} {
					ts, k := u.Tests[i], u.Tests[i].Criteria[0]
					points, counts := []float64{6, 8}[i], true // 50 and 25 s
					switch {
					case o == Failed:
						points = 1
					case o == Passed:
					case missing == "worst" && o != IsVoid:
						points = 2
					default:
						points, counts = 0, false
						absent++
					}
					some = some || o == Passed || o == Failed
					if ts.Outcome != o || ts.Points.OK != counts || ts.Points.V != points || k.Points != (rig.Figure{V: points, OK: counts, Why: k.Points.Why}) {
						t.Errorf("%s: test %d: %s, points %+v of %+v", name, i, ts.Outcome, ts.Points, k.Points)
					}
					if earned := map[Outcome]float64{Passed: []float64{6, 8}[i], Failed: 2}[o]; ts.Earned.OK != (earned > 0) || ts.Earned.V != earned {
						t.Errorf("%s: test %d earned %+v", name, i, ts.Earned)
					}
					if (k.Points.Why == "") != (o == Passed || o == Failed) {
						t.Errorf("%s: test %d: a reason %q", name, i, k.Points.Why)
					}
					title := []string{"First", "Second"}[i]
					said := strings.Join(u.Missing, "|")
					if got := strings.Contains(said, title+": "+string(o)); got != (o != Passed && o != Failed) {
						t.Errorf("%s: missing %q", name, said)
					}
					if got := strings.Contains(strings.Join(u.Failed, "|"), title); got != (o == Failed) {
						t.Errorf("%s: failed %q", name, u.Failed)
					}
					if counts {
						sum, of = sum+points*[]float64{2, 1}[i], of+[]float64{2, 1}[i]
					}
				}
				ranked := some && of > 0 && (missing != "unranked" || absent == 0)
				if u.Ranked != ranked || u.Overall.OK != ranked || !ranked && (u.Overall.V != 0 || u.Overall.Why == "") {
					t.Errorf("%s: ranked %v, overall %+v, want ranked %v", name, u.Ranked, u.Overall, ranked)
				}
				if ranked && !near(u.Overall.V, sum/of, 1e-12) {
					t.Errorf("%s: overall %g, want %g", name, u.Overall.V, sum/of)
				}
			}
		}
	}
}

func TestVoidStaysVisible(t *testing.T) {
	u := mustScore(t, twoTests(t, "worst"), ofOutcome(IsVoid, 1, "one", "50")).Unit("unit-a")
	ts := u.Tests[0]
	if len(ts.Aside) != 1 || ts.Aside[0].Measure("run_time_s").V != 50 || !strings.Contains(ts.Why, "void and have to be repeated: because") {
		t.Errorf("%+v: %q", ts.Aside, ts.Why)
	}
	// one void run beside two that count takes nothing away but is lacking
	l := twoTests(t, "reweight")
	ts = mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.run_time_s=50"), told("unit-a", 2, "measure.run_time_s=60", "void=rig"), told("unit-a", 3, "measure.run_time_s=70")}).Unit("unit-a").Tests[0]
	if ts.Outcome != Passed || ts.Why != "2 of 3 runs" || !near(ts.Points.V, (6+4.4)/2, 1e-12) {
		t.Errorf("%s %q %v", ts.Outcome, ts.Why, ts.Points)
	}
}

// TestTradeExample: a test that fails its gates scores 0 whatever it measured; the mixed load counts
// twice; 3.2 there with two failures gives 1.6 (common practice).
func TestTradeExample(t *testing.T) {
	l := testLab(t)
	l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 100, "any")}
	for _, id := range []string{"fish", "bones"} {
		p := l.Procedures[0]
		p.ID = id
		l.Procedures = append(l.Procedures, p)
		l.Scorecard.Tests = append(l.Scorecard.Tests, config.Test{ID: id, Procedure: id, Weight: 1, Gated: true})
		l.Scorecard.Criteria = append(l.Scorecard.Criteria, linear(id+"-trips", id, "trips", 0, 10, 1, 5))
	}
	l.Scorecard.Tests[0].Weight = 2
	u := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.run_time_s=68"), told("unit-a", 2, "procedure=fish", "measure.run_time_s=150", "measure.trips=0"), told("unit-a", 3, "procedure=bones", "failed=jammed for good", "measure.trips=1")}).Unit("unit-a")
	if p := u.Tests[0].Points; !near(p.V, 3.2, 1e-12) {
		t.Errorf("mixed load: %v", p)
	}
	if !near(u.Overall.V, 1.6, 1e-12) {
		t.Errorf("overall: %v, want 1.6", u.Overall)
	}
	for i, earned := range []float64{10, 5} { // the measures stay visible
		ts := u.Tests[1+i]
		if ts.Outcome != Failed || !ts.Points.OK || ts.Points.V != 0 || ts.Earned.V != earned || !ts.Criteria[0].Mean.OK {
			t.Errorf("%s: %s, %v, earned %v", ts.Test.ID, ts.Outcome, ts.Points, ts.Earned)
		}
	}
}

// TestPointsOf: with a curve that bends at 50 s the mean of points is not the points of the mean.
func TestPointsOf(t *testing.T) {
	for of, want := range map[string]float64{"run": (10 + 10 + 4) / 3., "mean": 10} {
		l := testLab(t)
		l.Scorecard.PointsOf = of
		l.Scorecard.Criteria[0].Curve = []config.Anchor{{At: 50, Points: 10}, {At: 100, Points: 0}}
		k := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.run_time_s=30"), told("unit-a", 2, "measure.run_time_s=40"), told("unit-a", 3, "measure.run_time_s=80")}).Unit("unit-a").Tests[0].Criteria[0]
		if !near(k.Points.V, want, 1e-12) || !near(k.Mean.V, 50, 1e-12) {
			t.Errorf("%s: got %v of a mean of %v, want %g", of, k.Points, k.Mean.Figure, want)
		}
		if p := k.PerRun[2]; p.Points.V != 4 || p.On.X0 != 50 || p.On.Y1 != 0 || p.On.Slope != -0.2 {
			t.Errorf("%s: the third run lies %+v", of, p.On)
		}
	}
}

// TestFloor: one run of three over the limit passes by majority; by itself it earns the failed points.
func TestFloor(t *testing.T) {
	for _, c := range []struct {
		gated  bool
		of     string
		points float64
	}{{true, "run", (9 + 8 + 1) / 3.}, {false, "run", (9 + 8 + 3) / 3.}, {true, "mean", 20 / 3.}} {
		l := testLab(t)
		l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 50, "majority")}
		l.Scorecard.Tests[0].Gated, l.Scorecard.Tests[0].FailedPoints, l.Scorecard.PointsOf = c.gated, 1, c.of
		k := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.run_time_s=10"), told("unit-a", 2, "measure.run_time_s=20"), told("unit-a", 3, "measure.run_time_s=70")}).Unit("unit-a").Tests[0].Criteria[0]
		if !near(k.Points.V, c.points, 1e-12) || !near(k.Earned.V, 20/3., 1e-12) || k.PerRun[2].Floor != c.gated {
			t.Errorf("gated %v, points of %s: got %v, earned %v, want %g", c.gated, c.of, k.Points, k.Earned, c.points)
		}
	}
}

// TestUngated: a failed gate fails no test that is not gated, unless the unit could not do it at all.
func TestUngated(t *testing.T) {
	for _, c := range []struct {
		gated bool
		fact  string
		want  Outcome
	}{{true, "measure.trips=0", Failed}, {false, "measure.trips=0", Passed}, {false, "failed=smoked", Failed}} {
		l := testLab(t)
		l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 50, "any"), atMost("left_share", 0.1, "any")}
		l.Scorecard.Tests[0].Gated = c.gated
		ts := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.run_time_s=70", c.fact)}).Unit("unit-a").Tests[0]
		if ts.Outcome != c.want || (len(ts.Gates) > 0) != c.gated || c.want == Passed && !near(ts.Points.V, 3, 1e-12) {
			t.Errorf("gated %v, %s: %s, %d gates, %v", c.gated, c.fact, ts.Outcome, len(ts.Gates), ts.Points)
		}
	}
}

// TestOnlyAside: runs that do not count are no test; void ones are to be repeated.
func TestOnlyAside(t *testing.T) {
	for facts, want := range map[string]Outcome{"kind=conditioning": NotTested, "kind=unplanned": NotTested, "void=rig": IsVoid} {
		if ts := mustScore(t, testLab(t), []rig.Record{told("unit-a", 1, facts)}).Unit("unit-a").Tests[0]; ts.Outcome != want || len(ts.Aside) != 1 {
			t.Errorf("%s: %s, %d aside", facts, ts.Outcome, len(ts.Aside))
		}
	}
}

func TestMissingCriteria(t *testing.T) {
	for _, c := range []struct {
		missing string
		facts   []string
		points  float64 // 0: absent
		said    string
	}{
		{"reweight", []string{"measure.run_time_s=40"}, 6, "grind, trips: not recorded, left out, the rest reweighted"},
		{"worst", []string{"measure.run_time_s=40"}, (6 + 2) / 2, "grind, trips: not recorded, counted as the worst"},
		{"unranked", []string{"measure.run_time_s=40"}, 0, "grind, trips: not recorded, so the unit is not ranked"},
		{"reweight", []string{"measure.run_time_s=40", "measure.trips=7"}, 6, "grind, trips: outside the curve, left out"},
		{"reweight", []string{"measure.trips=7"}, 0, "grind, time: not recorded"},
		{"worst", []string{"measure.trips=7"}, 1, "grind, trips: outside the curve, counted as the worst"},
	} {
		l := testLab(t)
		l.Scorecard.Missing = c.missing
		l.Scorecard.Criteria = append(l.Scorecard.Criteria, linear("trips", "grind", "trips", 0, 10, 1, 2, 2, 3))
		l.Scorecard.Criteria[1].Outside = "refuse"
		u := mustScore(t, l, []rig.Record{told("unit-a", 1, c.facts...)}).Unit("unit-a")
		ts := u.Tests[0]
		if ts.Points.OK != (c.points > 0) || !near(ts.Points.V, c.points, 1e-12) || u.Overall.OK != ts.Points.OK || !ts.Points.OK && (ts.Points.Why == "" || ts.Points.Why == "passed") {
			t.Errorf("%s %v: got %+v, overall %+v", c.missing, c.facts, ts.Points, u.Overall)
		}
		if !strings.Contains(strings.Join(u.Missing, "|"), c.said) {
			t.Errorf("%s %v: said %q, want %q", c.missing, c.facts, u.Missing, c.said)
		}
	}
	// a run without a value is left out of the mean, and that is said
	u := mustScore(t, testLab(t), []rig.Record{told("unit-a", 1, "measure.run_time_s=40"), told("unit-a", 2)}).Unit("unit-a")
	if u.Overall.V != 6 || len(u.Missing) != 1 || u.Missing[0] != "grind, time: not recorded in 1 of 2 runs, the mean is of the others" {
		t.Errorf("%v %q", u.Overall, u.Missing)
	}
}

func TestByHand(t *testing.T) {
	l := testLab(t)
	l.Scorecard.Tests = append(l.Scorecard.Tests, config.Test{ID: "owning", Weight: 1})
	l.Scorecard.Criteria = append(l.Scorecard.Criteria, config.Criterion{ID: "build", Test: "owning", Measure: "hand.build", Weight: 1, Shape: "linear", Outside: "flat"},
		linear("price", "owning", "hand.price", 100, 10, 500, 0))
	day := time.Date(2026, 4, 2, 0, 0, 0, 0, time.UTC)
	build := rig.HandValue{Unit: "unit-a", Name: "build", Value: 7, U: 0.5, Note: "rattles", Who: "tester", At: day}
	old := build
	old.Value, old.At = 3, day.Add(-time.Hour)
	price := rig.HandValue{Unit: "unit-a", Name: "price", Value: 200, At: day}
	run := []rig.Record{told("unit-a", 1, "measure.run_time_s=40")}
	for _, hand := range [][]rig.HandValue{{build, price}, {price, old, build}, {build, old, price}} {
		u := mustScore(t, l, run, hand...).Unit("unit-a")
		ts := u.Tests[1]
		if k := ts.Criteria[0]; ts.Outcome != Passed || k.Points.V != 7 || k.Mean.U != 0.5 || k.Mean.Note != "rattles" || !k.Mean.Typed || k.Mean.From[0].Text != "entered by tester on 2026-04-02" {
			t.Errorf("%s %+v", ts.Outcome, k)
		}
		if !near(ts.Points.V, (7+7.5)/2, 1e-12) || !near(u.Overall.V, (6+7.25)/2, 1e-12) {
			t.Errorf("%v, overall %v", ts.Points, u.Overall)
		}
	}
	u := mustScore(t, l, run, price).Unit("unit-a")
	if ts := u.Tests[1]; ts.Points.V != 7.5 || !strings.Contains(strings.Join(u.Missing, "|"), "owning, build: not entered") {
		t.Errorf("%v %q", ts.Points, u.Missing)
	}
	u = mustScore(t, l, run).Unit("unit-a")
	if ts := u.Tests[1]; ts.Outcome != NotTested || ts.Points.OK || u.Overall.V != 6 {
		t.Errorf("%s %v", ts.Outcome, ts.Points)
	}
	// one of which only the price is known has no place among those that were run
	u = mustScore(t, l, run, rig.HandValue{Unit: "unit-b", Name: "price", Value: 100}).Unit("unit-b")
	lacks(t, "price alone", u.Overall, "not tested")
	if !strings.HasSuffix(u.Missing[0], "and the unit has no place, for nothing of it was run") {
		t.Errorf("price alone: %q", u.Missing)
	}
	l.Scorecard.Tests, l.Scorecard.Criteria = l.Scorecard.Tests[1:], l.Scorecard.Criteria[1:]
	if u = mustScore(t, l, nil, price).Unit("unit-a"); u.Overall.V != 7.5 {
		t.Errorf("a scorecard of prices: %v", u.Overall)
	}
}

func TestCategories(t *testing.T) {
	l := twoTests(t, "reweight")
	l.Scorecard.Categories = []config.Category{{ID: "x", Weight: 3}, {ID: "y", Weight: 1}}
	l.Scorecard.Tests[0].Category, l.Scorecard.Tests[1].Category = "x", "y"
	u := mustScore(t, l, append(ofOutcome(Passed, 1, "one", "50"), ofOutcome(Passed, 2, "two", "25")...)).Unit("unit-a")
	if !near(u.Overall.V, (3*6+8)/4., 1e-12) || len(u.Categories) != 2 || u.Categories[0].Points.V != 6 || u.Categories[1].Points.V != 8 {
		t.Errorf("%v of %+v", u.Overall, u.Categories)
	}
	if a, b := u.Tests[0].Criteria[0].Weight, u.Tests[1].Criteria[0].Weight; !near(a, 0.75, 1e-12) || !near(b, 0.25, 1e-12) {
		t.Errorf("weights %g and %g", a, b)
	}
}

func TestControlUnitIsNotScored(t *testing.T) {
	l := testLab(t)
	l.Bench.Control = config.Control{Unit: "unit-b", Procedure: "one", Baseline: 10}
	c := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.run_time_s=40"), told("unit-b", 1, "measure.run_time_s=40")})
	if len(c.Units) != 1 || c.Units[0].Unit.ID != "unit-a" || c.Runs[1].Status != ControlRun {
		t.Errorf("%d units, the run of the control unit: %s", len(c.Units), c.Runs[1].Status)
	}
}

func TestBadCurve(t *testing.T) {
	l := testLab(t)
	l.Scorecard.Criteria[0].Curve[1].At = -1
	if _, err := Score(l, nil, nil); err == nil {
		t.Error("a curve that goes back gave no error")
	}
}
