package score

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
	"quern/rig/score/gum"
)

// TestVerdicts: the limit is 80 dB; a typed level has 0.3 dB of its own and 0.4 dB that all units share,
// 0.5 dB together, so the band is 1 dB.
func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		level string
		side  string
		rule  string
		want  gum.Verdict
	}{
		{"79", "at-most", "four-way", gum.Pass}, {"79.1", "at-most", "four-way", gum.PassClose}, {"80", "at-most", "four-way", gum.PassClose},
		{"80.1", "at-most", "four-way", gum.FailClose}, {"81", "at-most", "four-way", gum.Fail},
		{"79.1", "at-most", "guarded", gum.Fail}, {"79", "at-most", "guarded", gum.Pass},
		{"80", "at-most", "simple", gum.Pass}, {"80.01", "at-most", "simple", gum.Fail},
		{"81", "at-least", "four-way", gum.Pass}, {"80.9", "at-least", "four-way", gum.PassClose}, {"79.1", "at-least", "four-way", gum.FailClose}, {"79", "at-least", "four-way", gum.Fail},
	} {
		l := testLab(t)
		l.Procedures[0].Gates = []config.Gate{{Measure: "laeq_db", Side: c.side, Limit: 80, Rule: c.rule, Band: 2, Repeats: "any"}}
		r := only(t, l, told("unit-a", 1, "measure.laeq_db="+c.level+"~0.3"))
		g := r.Gates[0]
		passes := c.want == gum.Pass || c.want == gum.PassClose
		if g.Verdict != c.want || g.Fails() == passes || !g.Decided() || g.Close() != strings.Contains(string(c.want), "close") {
			t.Errorf("%s dB %s 80, %s: got %s, fails %v, close %v", c.level, c.side, c.rule, g.Verdict, g.Fails(), g.Close())
		}
		if want := map[bool]Outcome{true: Passed, false: Failed}[passes]; r.Outcome != want {
			t.Errorf("%s dB: the run %s, want %s", c.level, r.Outcome, want)
		}
		if remarked(r, "too close to call ("+string(c.want)) != g.Close() {
			t.Errorf("%s dB: remarks %q", c.level, r.Remarks)
		}
	}
}

func TestUndecidedGates(t *testing.T) {
	l := testLab(t)
	l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 100, "any"), atMost("left_share", 0.05, "any")}
	for _, c := range []struct {
		facts []string
		want  Outcome
	}{
		{[]string{"measure.run_time_s=50"}, NotMeasurable}, {[]string{"measure.run_time_s=150"}, Failed}, {[]string{"measure.run_time_s=50", "failed=smoked"}, Failed},
		{[]string{"measure.run_time_s=50", "measure.left_share=0.01"}, Passed}, {[]string{"measure.run_time_s=50", "void=rig"}, IsVoid}, {[]string{"measure.run_time_s=150", "void=rig"}, IsVoid},
	} {
		r := only(t, l, told("unit-a", 1, c.facts...))
		if r.Outcome != c.want {
			t.Errorf("%v: got %s, want %s", c.facts, r.Outcome, c.want)
		}
		if len(c.facts) == 1 && !remarked(r, "left_share cannot be judged: charge not weighed") && !remarked(r, "left_share cannot be judged: chamber not weighed") {
			t.Errorf("%v: remarks %q", c.facts, r.Remarks)
		}
	}
	bad := decide(&config.Gate{Measure: "trips", Side: "at-most", Rule: "none"}, Value{Figure: rig.Fig(1)})
	if bad.Decided() || bad.Fails() || bad.Close() {
		t.Errorf("a gate without a rule: %+v", bad)
	}
}

// TestGatesOverRuns tries all verdicts of 1 to 4 runs. A gate is decided if whatever the missing values
// turn out to be, its outcome is the same.
func TestGatesOverRuns(t *testing.T) {
	states := map[byte]string{'P': "measure.run_time_s=90~1", 'p': "measure.run_time_s=99~1", 'f': "measure.run_time_s=101~1", 'F': "measure.run_time_s=110~1", '?': "measure.run_time_s=absent"}
	outcome := func(rule, runs string) (fails bool) { // of runs that are all P or F
		n := strings.Count(runs, "F")
		return rule == "any" && n > 0 || rule == "majority" && 2*n > len(runs)
	}
	var resolve func(runs string) []string
	resolve = func(runs string) []string {
		if i := strings.IndexByte(runs, '?'); i >= 0 {
			return append(resolve(runs[:i]+"P"+runs[i+1:]), resolve(runs[:i]+"F"+runs[i+1:])...)
		}
		return []string{strings.ToUpper(runs)}
	}
	labs := map[string]*config.Lab{}
	for _, rule := range []string{"any", "majority"} {
		labs[rule] = testLab(t)
		labs[rule].Procedures[0].Repeats = 4
		labs[rule].Procedures[0].Gates = []config.Gate{atMost("run_time_s", 100, rule)}
	}
	for n := 1; n <= 4; n++ {
		for code := range int(math.Pow(5, float64(n))) {
			runs := ""
			var records []rig.Record
			for i, x := 0, code; i < n; i, x = i+1, x/5 {
				runs += "PpfF?"[x%5 : x%5+1]
				records = append(records, told("unit-a", i, states[runs[i]]))
			}
			for _, rule := range []string{"any", "majority"} {
				ts := mustScore(t, labs[rule], records).Units[0].Tests[0]
				var may [2]bool
				for _, full := range resolve(runs) {
					may[map[bool]int{true: 1}[outcome(rule, full)]] = true
				}
				want := map[[2]bool]Outcome{{true, false}: Passed, {false, true}: Failed, {true, true}: NotMeasurable}[may]
				g := ts.Gates[0]
				if ts.Outcome != want || g.Fails != (want == Failed) || g.Decided != (want != NotMeasurable) || g.Passes != strings.Count(strings.ToLower(runs), "p") {
					t.Errorf("%s of %s: got %s, %+v, want %s", rule, runs, ts.Outcome, g, want)
				}
				if n < 4 && !strings.Contains(ts.Why, fmt.Sprintf("%d of 4 runs", n)) || want == Failed && !strings.Contains(ts.Why, fmt.Sprintf("run_time_s: passed %d of %d", g.Passes, n)) ||
					want == NotMeasurable && !strings.Contains(ts.Why, "run_time_s cannot be judged") {
					t.Errorf("%s of %s: %q", rule, runs, ts.Why)
				}
			}
		}
	}
}

// TestGateOnTheMean: four runs with 1 s each have 0.5 s together, so the band is 1 s.
func TestGateOnTheMean(t *testing.T) {
	for _, c := range []struct {
		times   []string
		verdict gum.Verdict
		want    Outcome
	}{
		{[]string{"90", "100", "100", "106"}, gum.Pass, Passed}, {[]string{"90", "100", "100", "107"}, gum.PassClose, Passed},
		{[]string{"94", "100", "100", "107"}, gum.FailClose, Failed}, {[]string{"97", "100", "100", "107"}, gum.Fail, Failed},
		{[]string{"90", "90", "90", "absent"}, "", NotMeasurable}, {[]string{"absent"}, "", NotMeasurable},
	} {
		l := testLab(t)
		l.Procedures[0].Repeats = len(c.times)
		l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 100, "mean")}
		var records []rig.Record
		for i, s := range c.times {
			records = append(records, told("unit-a", i, "measure.run_time_s="+s+"~1"))
		}
		ts := mustScore(t, l, records).Units[0].Tests[0]
		if ts.Outcome != c.want || ts.Gates[0].Mean.Verdict != c.verdict {
			t.Errorf("%v: got %s, %s, want %s, %s", c.times, ts.Outcome, ts.Gates[0].Mean.Verdict, c.want, c.verdict)
		}
		if ts.Outcome == Failed && !strings.Contains(ts.Why, "run_time_s: the mean 10") {
			t.Errorf("%v: %q", c.times, ts.Why)
		}
		for _, p := range ts.Criteria[0].PerRun { // 107 s is a result like any other: the gate is on the mean
			if p.Floor {
				t.Errorf("%v: a run got the points of a failed test", c.times)
			}
		}
	}
}

// TestMeansOfLevels: 70 and 80 dB are 75 dB on the mean and 77.4 dB in energy: ten parts of eleven by
// the second.
func TestMeansOfLevels(t *testing.T) {
	for _, how := range []string{"arithmetic", "energy"} {
		l := testLab(t)
		l.Scorecard.Levels = how
		l.Procedures[0].Gates = []config.Gate{atMost("laeq_db", 76, "mean")}
		l.Scorecard.Criteria = []config.Criterion{linear("level", "grind", "laeq_db", 60, 10, 90, 0), linear("time", "grind", "run_time_s", 0, 10, 100, 0)}
		u := mustScore(t, l, []rig.Record{told("unit-a", 1, "measure.laeq_db=70~0.3", "measure.run_time_s=20~1"), told("unit-a", 2, "measure.laeq_db=80~0.6", "measure.run_time_s=40~1")}).Units[0]
		f := func(x []float64) float64 { return (x[0] + x[1]) / 2 }
		if how == "energy" {
			f = func(x []float64) float64 { return 10 * math.Log10((math.Pow(10, x[0]/10)+math.Pow(10, x[1]/10))/2) }
		}
		want, err := gum.Propagate(f, []float64{70, 80}, []float64{0.3, 0.6}, nil)
		if err != nil {
			t.Fatal(err)
		}
		k := u.Tests[0].Criteria[0]
		if !near(k.Mean.V, want.Y, 1e-9) || !near(k.Mean.U, want.U, 1e-7) || !near(k.Mean.UCommon, 0.4, 1e-12) || k.Mean.Share != LevelShared || !k.Mean.Typed {
			t.Errorf("%s: got %+v, want %.6g ±%.6g", how, k.Mean, want.Y, want.U)
		}
		if g := u.Tests[0].Gates[0]; g.Fails != (how == "energy") || !near(g.Mean.Value.V, want.Y, 1e-9) {
			t.Errorf("%s: the gate on the mean: %+v", how, g)
		}
		same(t, how+": times are no levels", u.Tests[0].Criteria[1].Mean, 30, math.Sqrt(0.5))
	}
	if e := 10 * math.Log10((1e7+1e8)/2); !near(e, 77.4036, 1e-4) {
		t.Errorf("10 lg: %g", e)
	}
}

// TestSharedMeans: what all runs share does not shrink in their mean; 2 % of a current is a share of each.
func TestSharedMeans(t *testing.T) {
	a, b := jammed(), jammed()
	b.Session = "s2"
	b.Result.Runs[0].Motor.MeanA = rig.Fig(7)
	c := mustScore(t, testLab(t), []rig.Record{a, b})
	if v := meanOf(c.Runs, "mean_a", false); !near(v.V, 6, 1e-12) || !near(v.UCommon, 0.12, 1e-12) || v.U != 0 || v.Share != CurrentShare {
		t.Errorf("mean current: %+v", v)
	}
	if v := meanOf(c.Runs, "laeq_db", false); !near(v.UCommon, 0.4, 1e-12) || !near(v.U, 0.3, 1e-12) { // 0.3*sqrt 2 each
		t.Errorf("mean level: %+v", v)
	}
	lacks(t, "no run", meanOf(nil, "laeq_db", false).Figure, "no-run")
	lacks(t, "in no run", meanOf(c.Runs, "left_g", false).Figure, "not-weighed")
}

// TestDoubtsStandBesideScores: a figure that is only a bound is published with the words that say so.
func TestDoubtsStandBesideScores(t *testing.T) {
	rec := jammed()
	rec.Result.Runs = append(rec.Result.Runs, rec.Result.Runs[0])
	rec.Result.Warnings = []rig.Warning{{Code: "microphone-clipped", Run: 2, Text: "3 samples of run 2 were clipped"}, {Code: "microphone-clipped", Text: "9 samples clipped from 1.00 to 2.00 s"},
		{Code: "clamp-clipped", Text: "7 samples of the clamp stood at full scale"}, {Code: "background-disturbed", Run: 1, Text: "1.0 s of the quiet before run 1 stood out"}}
	for i, want := range []string{"7 samples of the clamp", "3 samples of run 2 were clipped|7 samples of the clamp"} {
		r := mustScore(t, testLab(t), []rig.Record{rec}).Runs[i]
		got := strings.Join(r.Remarks, "|")
		if !strings.HasPrefix(got, want) || strings.Contains(got, "stood out") || strings.Contains(got, "from 1.00") {
			t.Errorf("run %d: %q, want %q first", i+1, got, want)
		}
	}
}
