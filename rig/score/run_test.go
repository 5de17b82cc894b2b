package score

import (
	"slices"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

func TestStatusByCorrections(t *testing.T) {
	for _, c := range []struct {
		name    string
		facts   []string
		status  Status
		cause   string
		failing bool
		why     string
		outcome Outcome
	}{
		{name: "as recorded", status: Counts, outcome: NotMeasurable},
		{name: "conditioning", facts: []string{"kind=conditioning"}, status: Conditioning, outcome: NotMeasurable},
		{name: "taken back", facts: []string{"kind=conditioning", "kind=scored"}, status: Counts, outcome: NotMeasurable},
		{name: "unplanned", facts: []string{"kind=unplanned"}, status: Unplanned, outcome: NotMeasurable},
		{name: "control", facts: []string{"kind=control"}, status: ControlRun, outcome: NotMeasurable},
		{name: "void", facts: []string{"void=rig"}, status: Void, cause: "rig", why: "because", outcome: IsVoid},
		{name: "void of another cause", facts: []string{"void=rig", "void=operator"}, status: Void, cause: "operator", why: "because", outcome: IsVoid},
		{name: "counts after all", facts: []string{"void=rig", "void=no"}, status: Counts, outcome: NotMeasurable},
		{name: "void whatever its kind", facts: []string{"void=rig", "kind=conditioning", "kind=scored"}, status: Void, cause: "rig", why: "because", outcome: IsVoid},
		{name: "its kind once it is not void", facts: []string{"kind=control", "void=rig", "void=no"}, status: ControlRun, outcome: NotMeasurable},
		{name: "failed", facts: []string{"failed=leaked"}, status: Counts, failing: true, why: "leaked: because", outcome: Failed},
		{name: "failed, taken back", facts: []string{"failed=leaked", "failed=no"}, status: Counts, outcome: NotMeasurable},
		{name: "void and failed", facts: []string{"failed=leaked", "void=rig"}, status: Void, cause: "rig", failing: true, why: "because", outcome: IsVoid},
		{name: "still failed", facts: []string{"failed=leaked", "void=rig", "void=no"}, status: Counts, failing: true, why: "leaked: because", outcome: Failed},
		{name: "still void", facts: []string{"void=rig", "failed=leaked", "failed=no"}, status: Void, cause: "rig", why: "because", outcome: IsVoid},
	} {
		l := testLab(t)
		l.Procedures[0].Gates = []config.Gate{atMost("run_time_s", 100, "any")}
		r := only(t, l, told("unit-a", 1, c.facts...))
		if r.Status != c.status || r.Cause != c.cause || r.Failing != c.failing || r.Why != c.why || r.Outcome != c.outcome || len(r.Applied) != len(c.facts) {
			t.Errorf("%s: got %s, cause %q, failing %v, why %q, %s, %d corrections", c.name, r.Status, r.Cause, r.Failing, r.Why, r.Outcome, len(r.Applied))
		}
	}
}

func TestUnitAndProcedureByCorrections(t *testing.T) {
	l := testLab(t)
	other := l.Procedures[0]
	other.ID, other.Gates = "other", []config.Gate{atMost("run_time_s", 100, "any")}
	l.Procedures = append(l.Procedures, other)
	c := mustScore(t, l, []rig.Record{told("unit-a", 1, "unit=unit-b", "procedure=other"), told("unit-a", 2, "unit=unit-b", "unit=unit-a"),
		told("unit-a", 3, "unit=nobody"), told("unit-a", 4, "procedure=nothing"), {Session: "z", Unit: "unit-a", Procedure: "one"}})
	if r := c.Runs[0]; r.Unit != "unit-b" || r.Procedure.ID != "other" || len(r.Gates) != 1 {
		t.Errorf("got %s, %s, %d gates", r.Unit, r.Procedure.ID, len(r.Gates))
	}
	if r := c.Runs[1]; r.Unit != "unit-a" {
		t.Errorf("of two corrections the last counts: got %s", r.Unit)
	}
	if len(c.Runs) != 2 || len(c.Loose) != 3 || c.Loose[0].Session != "z" || c.Loose[1].Why != `unit "nobody", which units.toml does not have` || c.Loose[2].Why != `procedure "nothing", which procedures/ does not have` {
		t.Errorf("%d runs, loose %v", len(c.Runs), c.Loose)
	}
}

// TestRunsOfASession: a correction for run 2 is for run 2, one for run 0 for all.
func TestRunsOfASession(t *testing.T) {
	rec := jammed()
	rec.Result.Runs = append(rec.Result.Runs, rec.Result.Runs[0])
	rec.Facts.Weighings = []rig.Weighing{{Fact: 1, Run: 1, Role: rig.Chamber, NetG: rig.Fig(5)}, {Fact: 2, Run: 2, Role: rig.Chamber, NetG: rig.Fig(6)}}
	rec = say(rec, "void=rig", "measure.run_time_s=50", "weighing.2=9")
	rec.Facts.Corrections[0].Run = 2
	c := mustScore(t, testLab(t), []rig.Record{rec})
	if len(c.Runs) != 2 || c.Runs[0].Status != Counts || c.Runs[1].Status != Void || c.Runs[0].Name() != "s, run 1" || c.Runs[1].Name() != "s, run 2" {
		t.Fatalf("%d runs: %+v", len(c.Runs), c.Runs)
	}
	for _, r := range c.Runs {
		if v := r.Measure("run_time_s"); v.V != 50 {
			t.Errorf("%s: %v", r.Name(), v.Figure)
		}
	}
	if a, b := c.Runs[0], c.Runs[1]; a.Measure("left_g").V != 5 || b.Measure("left_g").V != 9 || remarked(a, "weighing.2") || !remarked(b, "corrected: weighing.2 to 9") {
		t.Errorf("%v %q, %v %q", a.Measure("left_g"), a.Remarks, b.Measure("left_g"), b.Remarks)
	}
	for _, n := range []int{1000, 1001} {
		rec.Facts.Corrections[0].Run = n
		c = mustScore(t, testLab(t), []rig.Record{rec})
		if got := len(c.Loose) == 1; got != (n > 1000) {
			t.Errorf("facts of run %d: loose %v", n, c.Loose)
		}
	}
}

// TestRunsThatNobodySaw: word of a run makes one, where the analysis found none.
func TestRunsThatNobodySaw(t *testing.T) {
	for fact, runs := range map[string]int{"failed=would not start": 1, "void=operator": 1, "measure.run_time_s=50": 1, "unit=unit-b": 0, "kind=conditioning": 0} {
		rec := told("unit-a", 1, fact)
		rec.Origin = rig.Recorded
		c := mustScore(t, testLab(t), []rig.Record{rec})
		if len(c.Runs) != runs || len(c.Loose) != 1-runs {
			t.Errorf("%s: %d runs, loose %v", fact, len(c.Runs), c.Loose)
		}
	}
}

func TestPlan(t *testing.T) {
	l := testLab(t)
	l.Procedures[0].Repeats = 2
	c := mustScore(t, l, []rig.Record{told("unit-a", 5), told("unit-a", 4, "kind=conditioning"), told("unit-a", 3), told("unit-a", 2, "void=rig"), told("unit-a", 1), told("unit-b", 9)})
	want := []Status{Counts, Void, Counts, Conditioning, Unplanned, Counts}
	for i, r := range c.Runs {
		if r.Status != want[i] {
			t.Errorf("%s: %s, want %s", r.Name(), r.Status, want[i])
		}
	}
	if ts := c.Unit("unit-a").Tests[0]; len(ts.Runs) != 2 || len(ts.Aside) != 3 {
		t.Errorf("%d count, %d aside", len(ts.Runs), len(ts.Aside))
	}
	if c.Unit("nobody") != nil {
		t.Error("a unit that is not there")
	}
}

// TestChecks: a check counts for its day and its bench, in whichever session it was made.
func TestChecks(t *testing.T) {
	l := testLab(t)
	l.Procedures[0].Checks = config.Checks{Sound: true, Scale: true, Clamp: true, Supply: true, Water: true}
	opening := rig.Record{Session: "opening", Bench: "left", Started: told("", 0).Started}
	for _, k := range []rig.CheckKind{rig.CheckSound, rig.CheckClamp, rig.CheckWater} {
		opening.Facts.Checks = append(opening.Facts.Checks, rig.Check{Kind: k})
	}
	here, there, later := told("unit-a", 1), told("unit-a", 2), told("unit-b", 1)
	here.Bench, later.Bench, there.Bench = "left", "left", "right"
	later.Started = later.Started.AddDate(0, 0, 1)
	c := mustScore(t, l, []rig.Record{here, there, later, opening})
	for i, want := range []int{2, 5, 5} {
		n := 0
		for _, what := range []string{"calibration of the microphone", "check weight", "known load through the clamp", "voltage at the socket", "flow of the water"} {
			if remarked(c.Runs[i], "no "+what+" on record for "+c.Runs[i].Day()) {
				n++
			}
		}
		if n != want || i == 0 && (!remarked(c.Runs[i], "check weight") || !remarked(c.Runs[i], "voltage")) {
			t.Errorf("%s on %s: %q", c.Runs[i].Name(), c.Runs[i].Day(), c.Runs[i].Remarks)
		}
	}
}

// A check that was withdrawn is none, unless it counts after all or was made again.
func TestChecksWithdrawn(t *testing.T) {
	l := testLab(t)
	l.Procedures[0].Checks = config.Checks{Scale: true}
	for name, c := range map[string]struct {
		on   []int // fact numbers of the checks
		said []rig.Correction
		miss bool
	}{
		"withdrawn":        {[]int{3}, []rig.Correction{{Target: "check.3", New: "withdrawn"}}, true},
		"counts after all": {[]int{3}, []rig.Correction{{Target: "check.3", New: "withdrawn"}, {Target: "check.3", New: "counts"}}, false},
		"made again":       {[]int{3, 5}, []rig.Correction{{Target: "check.3", New: "withdrawn"}}, false},
		"another":          {[]int{3}, []rig.Correction{{Target: "check.4", New: "withdrawn"}}, false},
	} {
		rec := told("unit-a", 1)
		for _, n := range c.on {
			rec.Facts.Checks = append(rec.Facts.Checks, rig.Check{Fact: n, Kind: rig.CheckScale})
		}
		rec.Facts.Corrections = append(rec.Facts.Corrections, c.said...)
		r := mustScore(t, l, []rig.Record{rec}).Runs[0]
		if got := remarked(r, "no check weight on record for "+r.Day()); got != c.miss {
			t.Errorf("%s: %q", name, r.Remarks)
		}
	}
}

// A calibration of the morning counts for a run of the same evening, on whichever side of Greenwich the bench stands, and
// one of the day before does not; in UTC it is the other way round.
func TestChecksOfTheBenchsDay(t *testing.T) {
	at := func(text string) time.Time {
		v, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, c := range []struct {
		zone, checked, ran string
		day                string // of the run
		counts             bool
	}{
		{"America/Chicago", "2026-03-01T15:00:00Z", "2026-03-02T01:30:00Z", "2026-03-01", true},
		{"America/Chicago", "2026-03-02T01:30:00Z", "2026-03-02T15:00:00Z", "2026-03-02", false},
		{"Pacific/Auckland", "2026-03-01T20:00:00Z", "2026-03-02T06:00:00Z", "2026-03-02", true},
		{"Pacific/Auckland", "2026-03-02T06:00:00Z", "2026-03-02T20:00:00Z", "2026-03-03", false},
		// The night in which the clock is put back: 0:30, and 23:30 of the same day, 24 h later.
		{"America/Chicago", "2026-11-01T05:30:00Z", "2026-11-02T05:30:00Z", "2026-11-01", true},
		{"", "2026-03-01T15:00:00Z", "2026-03-02T01:30:00Z", "2026-03-02", false},
		{"", "2026-03-02T01:30:00Z", "2026-03-02T15:00:00Z", "2026-03-02", true},
	} {
		l := testLab(t)
		l.Procedures[0].Checks = config.Checks{Sound: true}
		opening, run := told("unit-a", 1), told("unit-a", 2)
		opening.Session = "opening"
		opening.TimeZone, opening.Started = c.zone, at(c.checked)
		opening.Facts.Checks = []rig.Check{{Kind: rig.CheckSound}}
		run.TimeZone, run.Started = c.zone, at(c.ran)
		for _, beside := range []bool{false, true} {
			var camp *Campaign
			var err error
			if beside {
				camp, err = Score(l, []rig.Record{run}, nil, opening)
			} else {
				camp, err = Score(l, []rig.Record{opening, run}, nil)
			}
			if err != nil {
				t.Fatal(err)
			}
			r := camp.Runs[len(camp.Runs)-1]
			if missing := remarked(r, "no calibration of the microphone on record for "+c.day); r.Day() != c.day || missing == c.counts {
				t.Errorf("%s: checked at %s, ran at %s: day %s, %q", c.zone, c.checked, c.ran, r.Day(), r.Remarks)
			}
		}
	}
}

// TestChecksBeside: of a session that is judged by itself the checks of the day may stand in others, whose runs do
// not count; the remark says where.
func TestChecksBeside(t *testing.T) {
	l := testLab(t)
	l.Procedures[0].Checks = config.Checks{Sound: true, Scale: true, Clamp: true}
	run, opening, other := told("unit-a", 1), told("unit-a", 2), told("unit-b", 3)
	run.Bench, opening.Bench, other.Bench = "left", "left", "right"
	opening.Session, other.Session = "opening", "other-bench"
	run.Facts.Checks = []rig.Check{{Kind: rig.CheckSound}}
	opening.Facts.Checks = []rig.Check{{Kind: rig.CheckSound}, {Kind: rig.CheckScale}}
	other.Facts.Checks = []rig.Check{{Kind: rig.CheckClamp}}
	opening.Facts.Checks = append(opening.Facts.Checks, rig.Check{Fact: 9, Kind: rig.CheckClamp})
	opening.Facts.Corrections = []rig.Correction{{Target: "check.9", New: "withdrawn"}}
	c, err := Score(l, []rig.Record{run}, nil, opening, other)
	if err != nil {
		t.Fatal(err)
	}
	day := run.Started.UTC().Format("2006-01-02")
	if len(c.Runs) != 1 || len(c.Loose) != 0 {
		t.Fatalf("runs of other sessions count: %+v, %+v", c.Runs, c.Loose)
	}
	var got []string
	for _, m := range c.Runs[0].Remarks {
		if strings.Contains(m, day) {
			got = append(got, m)
		}
	}
	want := []string{"check weight for " + day + " is on record in session opening", "no known load through the clamp on record for " + day}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
