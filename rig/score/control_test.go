package score

import (
	"fmt"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
	"quern/rig/score/rank"
)

// controlRuns are control runs at noon of one day after another, with the given run times; "" is none.
func controlRuns(times ...string) []rig.Record {
	var out []rig.Record
	for i, s := range times {
		rec := told("unit-b", i, "measure.run_time_s="+s)
		if s == "" {
			rec = told("unit-b", i)
		}
		rec.Started = rec.Started.AddDate(0, 0, i)
		out = append(out, rec)
	}
	return out
}

func controlLab(t *testing.T) *config.Lab {
	l := testLab(t)
	l.Bench.Control = config.Control{Unit: "unit-b", Procedure: "one", Baseline: 10}
	return l
}

// steady is a baseline of 10 runs: mean 50 s, every move 2 s, so s = 2/1.128 = 1.773 s.
var steady = strings.Fields("49 51 49 51 49 51 49 51 49 51")

func TestControlChart(t *testing.T) {
	for _, c := range []struct {
		name  string
		times []string
		why   string
		state rank.State // of the last
		rule  rank.Alarm
	}{
		{"too few", steady[:9], "9 of 10 control runs for a baseline", "", ""},
		{"the baseline itself", steady, "", "", ""},
		{"in control", append(steady, "55"), "", rank.Warning, ""}, // 5/1.773 = 2.82
		{"well", append(steady, "53"), "", rank.InControl, ""},
		{"out", append(steady, "55.4"), "", rank.Out, rank.BeyondThree}, // 3.05
		{"two of three", append(steady, "54", "54"), "", rank.Out, rank.TwoOfThree},
		{"a run without a value is none of the baseline", append([]string{"", "49", ""}, append(steady[1:], "55.4")...), "", rank.Out, rank.BeyondThree},
		{"too few with a value", append([]string{""}, steady[1:]...), "9 of 10 control runs for a baseline", "", ""},
		{"flat", strings.Fields("50 50 50 50 50 50 50 50 50 50 51"), rank.ErrFlatBaseline.Error(), "", ""},
	} {
		m := mustScore(t, controlLab(t), controlRuns(c.times...))
		charts := m.Control()
		if len(charts) != 1 || charts[0].Measure != "run_time_s" || charts[0].Baseline != 10 || len(charts[0].Points) != len(c.times) {
			t.Errorf("%s: %+v", c.name, charts)
			continue
		}
		ch := charts[0]
		last := ch.Points[len(ch.Points)-1]
		if ch.Why != c.why || last.State != c.state || last.Rule != c.rule {
			t.Errorf("%s: why %q, the last %s %s (%.3g), want %q, %s %s", c.name, ch.Why, last.State, last.Rule, last.Z, c.why, c.state, c.rule)
		}
		if c.why == "" && (!near(ch.Chart.Centre, 50, 0.21) || ch.Chart.N != 10) {
			t.Errorf("%s: %+v", c.name, ch.Chart)
		}
	}
}

// TestBenchMoved: the day on which the control run is out is flagged in every run of that bench.
func TestBenchMoved(t *testing.T) {
	records := controlRuns(append(steady, "70", "50")...)
	for i := 9; i < 12; i++ {
		rec := told("unit-a", i, "measure.run_time_s=40")
		rec.Started = records[i].Started.Add(3600e9)
		records = append(records, rec)
	}
	elsewhere := records[13]
	elsewhere.Bench, elsewhere.Session = "right", "elsewhere"
	c := mustScore(t, controlLab(t), append(records, elsewhere))
	flagged := ""
	for _, r := range c.Runs {
		if remarked(r, "the bench had moved on 2026-04-11: run_time_s of the control run unit-b-10 is out (one beyond 3 s)") {
			flagged += fmt.Sprint(" ", r.Name())
		} else if remarked(r, "bench had moved") {
			t.Errorf("%s: %q", r.Name(), r.Remarks)
		}
	}
	if flagged != " unit-b-10 unit-a-10" {
		t.Errorf("flagged:%s", flagged)
	}
	unplanned := mustScore(t, controlLab(t), []rig.Record{told("unit-b", 1, "kind=conditioning"), told("unit-b", 2, "kind=unplanned"), told("unit-b", 3, "kind=scored")})
	for i, want := range []Status{Conditioning, Unplanned, ControlRun} {
		if got := unplanned.Runs[i].Status; got != want {
			t.Errorf("a run of the control unit: %s, want %s", got, want)
		}
	}
	if void := mustScore(t, controlLab(t), controlRuns(append(steady, "70")...)); len(void.Control()[0].Points) != 11 {
		t.Error("points are lacking")
	}
	records[10] = say(records[10], "void=rig")
	if ch := mustScore(t, controlLab(t), records).Control()[0]; len(ch.Points) != 11 || ch.Points[10].State != rank.InControl {
		t.Errorf("a void control run is charted: %+v", ch.Points)
	}
}

func TestRepeats(t *testing.T) {
	l := testLab(t)
	var records []rig.Record
	for i, s := range []string{"40", "42", "44"} { // own variance 4, as of the other: 2 s of 4 degrees of freedom
		records = append(records, told("unit-a", i, "measure.run_time_s="+s), told("unit-b", i, "measure.run_time_s="+[]string{"62", "60", "64"}[i]))
	}
	c := mustScore(t, l, records)
	k := c.Unit("unit-a").Tests[0].Criteria[0].Repeats
	// t(0.975; 4) = 2.776445 (tables)
	if k.SD != 2 || k.Dof != 4 || k.N != 3 || !near(k.Mean.V, 42, 1e-12) || !near(k.Summary.SD.V, 2, 1e-12) || !near(k.Half.V, 2.776445*2/1.7320508, 1e-5) || k.Outliers != nil {
		t.Errorf("%+v", k)
	}
	alone := mustScore(t, l, records[:1]).Unit("unit-a").Tests[0].Criteria[0].Repeats
	if alone.Dof != 0 || alone.N != 1 || alone.Half.OK || alone.Summary.SD.OK {
		t.Errorf("one run: %+v", alone)
	}
}

// TestOutliers: of twelve units with runs 1 s apart and one with a run 30 s off, that run is marked, and
// counts all the same. The absent run before it does not shift the mark.
func TestOutliers(t *testing.T) {
	l := testLab(t)
	base := l.Units[0]
	l.Units, l.Procedures[0].Repeats = nil, 4
	var records []rig.Record
	for i := range 13 {
		u := base
		u.ID = fmt.Sprintf("unit-%02d", i)
		l.Units = append(l.Units, u)
		for n := range 3 {
			time := fmt.Sprint(40 + n)
			if i == 7 {
				time = []string{"absent", "41", "71"}[n]
			}
			records = append(records, told(u.ID, n, "measure.run_time_s="+time))
		}
		if i == 7 {
			records = append(records, told(u.ID, 4, "measure.run_time_s=42"))
		}
	}
	c := mustScore(t, l, records)
	for _, u := range c.Units {
		k := u.Tests[0].Criteria[0]
		if want := map[bool]string{true: "[2]", false: "[]"}[u.Unit.ID == "unit-07"]; fmt.Sprint(k.Repeats.Outliers) != want {
			t.Errorf("%s: %v, want %s", u.Unit.ID, k.Repeats.Outliers, want)
		}
		want := rank.Outliers(k.values(), k.Repeats.SD, k.Repeats.Dof)
		if len(want) != len(k.Repeats.Outliers) {
			t.Errorf("%s: %v by rank, %v here", u.Unit.ID, want, k.Repeats.Outliers)
		}
		if u.Unit.ID == "unit-07" && !near(k.Mean.V, 154/3., 1e-12) {
			t.Errorf("an outlier was dropped: %v", k.Mean)
		}
	}
}

// TestLeastCritical: nothing is passed over that rank would mark.
func TestLeastCritical(t *testing.T) {
	for n := 2; n < 60; n++ {
		for _, dof := range []float64{1, 2, 40, 1e6} {
			if q := rank.TukeyQuantile(0.95, n, dof); q < leastCritical {
				t.Errorf("q(0.95; %d, %g) = %g", n, dof, q)
			}
		}
	}
}
