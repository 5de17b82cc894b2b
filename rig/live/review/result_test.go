package review

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
	"quern/rig/report/series"
	"quern/rig/score"
	"quern/rig/session"
)

// TestResult: the JSON of a stored analysis with verdict and points; without campaign and lab they are absent
// with a reason.
func TestResult(t *testing.T) {
	var camp *score.Campaign
	var lab *config.Lab
	h, dir := whole(t, "stall-and-trip", func(o *Options) {
		o.Lab = func() *config.Lab { return lab }
		o.Campaign = func() *score.Campaign { return camp }
	})
	r, err := h.Result(t.Context(), "s")
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Runs) != 1 || len(r.Verdicts) != 0 || r.NoVerdict == "" || r.NoPoints == "" {
		t.Errorf("without a lab: %d runs, verdicts %v, %q, %q", len(r.Runs), r.Verdicts, r.NoVerdict, r.NoPoints)
	}
	lab = testLab(t)
	b, err := session.OpenFacts(dir)
	if err != nil {
		t.Fatal(err)
	}
	rec := rig.Record{Session: b.Manifest.Session, Unit: "unit-a", Procedure: "mixed", Origin: rig.Recorded, Started: started, Result: rig.Result{Runs: r.Runs}, Facts: b.Facts}
	if camp, err = score.Score(lab, []rig.Record{rec}, nil); err != nil {
		t.Fatal(err)
	}
	w := call(h, "GET", "/sessions/s/result", "")
	var got map[string]any
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != 200 {
		t.Fatal(w.Code, err)
	}
	for _, key := range strings.Fields("session unit shown procedure bench origin started tool seconds channels streams settings analysis runs warnings facts verdicts derived files manifest_sha256 chain") {
		if _, ok := got[key]; !ok {
			t.Errorf("the JSON has no %s", key)
		}
	}
	if r, err = h.Result(t.Context(), "s"); err != nil {
		t.Fatal(err)
	}
	run := r.Runs[0]
	kinds := ""
	for _, e := range run.Events {
		kinds += string(e.Kind) + " "
		if e.Evidence == "" {
			t.Errorf("%s without evidence", e.Kind)
		}
	}
	if !strings.Contains(kinds, "stall_start") || !strings.Contains(kinds, "trip") || len(run.States) < 4 {
		t.Errorf("events %s, %d states", kinds, len(run.States))
	}
	if !r.Analysis.Stored || r.Analysis.Progress.V != 1 || r.Analysis.Made == nil || len(r.Analysis.Settings) != 64 {
		t.Errorf("the analysis is %+v", r.Analysis)
	}
	if s := r.Settings; s.RatedCurrentA.V != 6 || s.OverloadA.V != 7.5 || s.TimeLimitS.V == 0 && s.TimeLimitS.OK || s.Detect == "" {
		t.Errorf("the settings are %+v", s)
	}
	if r.NoVerdict != "" || r.NoPoints != "" || len(r.Verdicts) != 1 {
		t.Fatalf("verdicts %+v, %q, %q", r.Verdicts, r.NoVerdict, r.NoPoints)
	}
	v := r.Verdicts[0]
	if len(v.Gates) == 0 || len(v.Items) != 6 || len(v.Measures) != len(rig.Measures) {
		t.Errorf("%d gates, %d items, %d measures", len(v.Gates), len(v.Items), len(v.Measures))
	}
	want := 0
	for _, ts := range camp.Unit("unit-a").Tests {
		for _, k := range ts.Criteria {
			for _, p := range k.PerRun {
				if p.Run == nil { // entered by hand
					continue
				}
				want++
				found := false
				for _, x := range v.Points {
					found = found || x.Test == ts.Test.ID && x.Criterion == k.Criterion.ID && x.Points.OK == p.Points.OK && x.Points.V == p.Points.V
				}
				if !found {
					t.Errorf("no points of %s in %s", k.Criterion.ID, ts.Test.ID)
				}
			}
		}
	}
	if want == 0 || len(v.Points) != want {
		t.Errorf("%d points, want %d", len(v.Points), want)
	}
}

// TestRightUnit: a correction of the unit has the session analysed under that unit's nameplate.
func TestRightUnit(t *testing.T) {
	h, _ := whole(t, "plain", nil)
	if _, err := add(t, h, `{"correction":{"target":"unit","new":"unit-b","why":"the label was swapped"}}`); err != nil {
		t.Fatal(err)
	}
	for {
		r, err := h.Result(t.Context(), "s")
		if err != nil {
			t.Fatal(err)
		}
		if r.Unit != "unit-b" || r.Settings.RatedCurrentA.V != 4.2 {
			t.Fatalf("unit %s of %g A, want unit-b of 4.2", r.Unit, r.Settings.RatedCurrentA.V)
		}
		if r.Analysis.Progress.V == 1 {
			if len(r.Runs) != 1 {
				t.Errorf("%d runs", len(r.Runs))
			}
			return
		}
		if len(r.Runs) != 0 || r.NoVerdict == "" {
			t.Fatalf("while it is being analysed it says %d runs, %q", len(r.Runs), r.NoVerdict)
		}
	}
}

// TestByHand: a session without a recording has facts and a verdict, and no series.
func TestByHand(t *testing.T) {
	folder := t.TempDir()
	lab := testLab(t)
	set, err := lab.Setup("unit-a", "mixed")
	if err != nil {
		t.Fatal(err)
	}
	w, err := session.Create(filepath.Join(folder, "hand"), session.Head{Setup: set, Started: started, Tool: "quern test", Origin: rig.ByHand})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.AppendCorrection(rig.Correction{At: started, Target: "measure.run_time_s", New: "121", Who: "ann", Why: "a stopwatch"}); err != nil {
		t.Fatal(err)
	}
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	h := shelfOf(t, folder, nil)
	r, err := h.Result(t.Context(), "hand")
	if err != nil || len(r.Verdicts) != 1 || r.Seconds.OK || len(r.Channels) != 0 || r.Derived.V != 1 {
		t.Errorf("%+v (%v)", r.Verdicts, err)
	}
	if c := call(h, "GET", "/sessions/hand/series?channel=level", ""); c.Code != 404 {
		t.Errorf("a series of nothing: %d %s", c.Code, c.Body)
	}
	if _, err := h.WhatIf(t.Context(), "hand", "motor.stall_ratio = 0.8"); err != nil {
		t.Errorf("what if nothing was recorded: %v", err)
	}
	if _, err := os.Stat(filepath.Join(folder, series.CacheName)); !os.IsNotExist(err) {
		t.Error("something was kept of nothing")
	}
}

// TestChecksOfTheDay: checks that stand in another session of the day are seen, and the remark says where.
func TestChecksOfTheDay(t *testing.T) {
	folder := t.TempDir()
	set, err := testLab(t).Setup("unit-a", "mixed")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"first-of-the-day", "hand"} {
		w, err := session.Create(filepath.Join(folder, name), session.Head{Setup: set, Started: started, Tool: "quern test", Origin: rig.ByHand})
		if err != nil {
			t.Fatal(err)
		}
		if name == "hand" {
			_, err = w.AppendCorrection(rig.Correction{At: started, Target: "measure.run_time_s", New: "121", Who: "ann", Why: "a stopwatch"})
		} else {
			_, err = w.AppendCheck(rig.Check{Kind: rig.CheckScale, Nominal: rig.Fig(1000), Found: rig.Fig(1000), Who: "ann"})
		}
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Seal(); err != nil {
			t.Fatal(err)
		}
	}
	r, err := shelfOf(t, folder, nil).Result(t.Context(), "hand")
	if err != nil || len(r.Verdicts) != 1 {
		t.Fatalf("%+v (%v)", r.Verdicts, err)
	}
	said := strings.Join(r.Verdicts[0].Remarks, "\n")
	if !strings.Contains(said, "is on record in session first-of-the-day") || strings.Contains(said, "no check weight") || !strings.Contains(said, "no calibration of the microphone") {
		t.Errorf("remarks:\n%s", said)
	}
}
