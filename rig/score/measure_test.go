package score

import (
	"math"
	"slices"
	"strings"
	"testing"

	"quern/rig"
)

// jammed is a run with a pause, a stall and a trip: on 100-130 s and 150-170 s, locked 160-163 s, tripped
// at 170 s, on again 200-220 s; clear at 155 s first, in the end at 210 s.
func jammed() rig.Record {
	rec := weighed()
	ev := func(k rig.Kind, at, within float64) rig.Event {
		return rig.Event{Kind: k, AtS: rig.Fig(at), WithinS: rig.Fig(within), Evidence: "invented"}
	}
	rec.Result.Runs = []rig.Run{{StartS: rig.Fig(100), EndS: rig.Fig(220), ElapsedS: rig.Fig(120), MotorOnS: rig.Fig(70), RunTimeS: rig.Fig(1),
		Motor: rig.Motor{IdleA: rig.Fig(3), MeanA: rig.Fig(5), MaxA: rig.Fig(30), InrushA: rig.Fig(28)},
		Sound: rig.Sound{LAeqDB: rig.Fig(80), LAeqCorrectedDB: rig.Fig(79), LAFmaxDB: rig.Fig(91), LASmaxDB: rig.Fig(88), LA10DB: rig.Fig(84), LA90DB: rig.Fig(70), LCpeakDB: rig.Fig(110), LAEDB: rig.Fig(98), BackgroundDB: rig.Fig(73)},
		Extra: []rig.Extra{{Channel: "water", Mean: rig.Fig(14), Least: rig.Fig(13), Most: rig.Fig(16)}},
		Events: []rig.Event{ev(rig.MotorStart, 100, 0), ev(rig.OverloadStart, 110, 0), ev(rig.OverloadEnd, 114, 0), ev(rig.MotorStop, 130, 0), ev(rig.MotorStart, 150, 0), ev(rig.LoadEnd, 155, 0),
			ev(rig.StallStart, 160, 0), ev(rig.StallEnd, 163, 0.6), ev(rig.StallStart, 166, 0), ev(rig.StallEnd, 170, 0), ev(rig.Trip, 170, 0), ev(rig.MotorStart, 200, 0.3), ev(rig.LoadEnd, 210, 0), ev(rig.MotorStop, 220, 0)}}}
	return rec
}

// TestTimes: an instant has 0.1 s, or its own half-width over the root of 3.
func TestTimes(t *testing.T) {
	start := math.Sqrt(0.03) // 0.3 s either side
	for _, c := range []struct {
		clock, name string
		v, u2       float64
	}{
		{"motor-on", "run_time_s", 70, 5*0.01 + start*start}, {"elapsed", "run_time_s", 120, 2 * 0.01},
		{"motor-on", "motor_on_s", 70, 5*0.01 + start*start}, {"elapsed", "motor_on_s", 70, 5*0.01 + start*start},
		{"motor-on", "elapsed_s", 120, 2 * 0.01}, {"motor-on", "pause_s", 50, 3*0.01 + start*start},
		{"motor-on", "clear_s", 60, 1 + 0.01}, {"elapsed", "clear_s", 110, 1 + 0.01},
		{"motor-on", "stall_s", 7, 3*0.01 + 0.36/3}, {"motor-on", "overload_s", 4, 2 * 0.01},
		{"motor-on", "pauses", 2, 0}, {"motor-on", "stalls", 2, 0}, {"motor-on", "overloads", 1, 0}, {"motor-on", "trips", 1, 0},
	} {
		l := testLab(t)
		l.Procedures[0].Clock = c.clock
		same(t, c.clock+" "+c.name, only(t, l, jammed()).Measure(c.name), c.v, math.Sqrt(c.u2))
	}
}

func TestTimesOfOtherRuns(t *testing.T) {
	change := func(f func(*rig.Run)) *Run {
		rec := jammed()
		f(&rec.Result.Runs[0])
		return only(t, testLab(t), rec)
	}
	without := func(kinds ...rig.Kind) func(*rig.Run) {
		return func(r *rig.Run) {
			r.Events = slices.DeleteFunc(r.Events, func(e rig.Event) bool { return slices.Contains(kinds, e.Kind) })
		}
	}
	deaf := change(func(r *rig.Run) { r.Motor = rig.Motor{} })
	for _, name := range []string{"stalls", "overloads", "trips", "stall_s", "overload_s"} {
		lacks(t, name+" without current", deaf.Measure(name).Figure, "no-current")
	}
	same(t, "pauses can be heard", deaf.Measure("pauses"), 2, 0)
	lacks(t, "never clear", change(without(rig.LoadEnd)).Measure("clear_s").Figure, "never-clear")
	lacks(t, "no start", change(func(r *rig.Run) { r.StartS = rig.Figure{} }).Measure("clear_s").Figure, "never-clear")
	lacks(t, "pauses of no time", change(func(r *rig.Run) { r.MotorOnS = rig.Absent("gap") }).Measure("pause_s").Figure, "gap")
	lacks(t, "not stored", change(func(r *rig.Run) { r.MotorOnS = rig.Figure{} }).Measure("run_time_s").Figure, "not-measured")
	same(t, "no pause below nothing", change(func(r *rig.Run) { r.MotorOnS = rig.Fig(120.001) }).Measure("pause_s"), 0, math.Sqrt(0.03+0.03))
	quiet := change(without(rig.StallStart, rig.StallEnd, rig.Trip, rig.MotorStop))
	same(t, "no stall", quiet.Measure("stall_s"), 0, 0)
	same(t, "no trip", quiet.Measure("trips"), 0, 0)
	same(t, "starts without stops are no pauses", quiet.Measure("pauses"), 0, 0)
	same(t, "an end without a start", change(without(rig.StallStart)).Measure("stall_s"), 0, 0)
	same(t, "a start without an end", change(without(rig.StallEnd)).Measure("stall_s"), 0, 0)
	same(t, "a start told twice", change(func(r *rig.Run) { r.Events = append(r.Events[:5:5], r.Events[4:]...) }).Measure("pauses"), 2, 0)
	same(t, "running before", change(func(r *rig.Run) { r.Events = r.Events[3:] }).Measure("pauses"), 2, 0)
	vague := change(func(r *rig.Run) { r.Events[12].WithinS = rig.Fig(3) })
	same(t, "clear within 3 s", vague.Measure("clear_s"), 60, math.Sqrt(3+0.01))
}

// TestTimesOfARunNotRecordedWhole: a run that power or the recorder's end cut off was not quick; what lies within it, and a
// run beside it, is as sure as ever.
func TestTimesOfARunNotRecordedWhole(t *testing.T) {
	for code, why := range map[string]string{rig.BeganRunning: "began-before-the-recording", rig.EndedRunning: "went-on-after-the-recording"} {
		rec := jammed()
		rec.Result.Warnings = []rig.Warning{{Code: code}}
		r := only(t, testLab(t), rec)
		for _, name := range []string{"run_time_s", "motor_on_s", "elapsed_s", "drawn_as"} {
			lacks(t, code+" "+name, r.Measure(name).Figure, why)
		}
		if clear := r.Measure("clear_s"); clear.OK == (code == rig.BeganRunning) {
			t.Errorf("%s: clear_s %v", code, clear)
		}
		same(t, code+" pause_s", r.Measure("pause_s"), 50, math.Sqrt(0.06))
		rec.Result.Runs = append(rec.Result.Runs, rec.Result.Runs[0])
		c := mustScore(t, testLab(t), []rig.Record{rec})
		for i, r := range c.Runs {
			if whole := r.Measure("elapsed_s").OK; whole != ((i == 1) == (code == rig.BeganRunning)) {
				t.Errorf("%s: run %d of 2: whole %v", code, i+1, whole)
			}
		}
	}
}

func TestLevelsAndCurrents(t *testing.T) {
	l := testLab(t)
	r := only(t, l, jammed())
	for _, c := range []struct {
		name         string
		v, u, common float64
		share        ErrorOf
	}{
		{"laeq_db", 79, math.Hypot(0.3, 0.3), 0.4, LevelShared}, // 1 dB taken off, known to 0.3 dB
		{"laeq_uncorrected_db", 80, 0.3, 0.4, LevelShared}, {"lafmax_db", 91, 0.3, 0.4, LevelShared}, {"lasmax_db", 88, 0.3, 0.4, LevelShared},
		{"la10_db", 84, 0.3, 0.4, LevelShared}, {"la90_db", 70, 0.3, 0.4, LevelShared}, {"lcpeak_db", 110, 0.3, 0.4, LevelShared},
		{"lae_db", 98, 0.3, 0.4, LevelShared}, {"background_db", 73, 0.3, 0.4, LevelShared},
		{"idle_a", 3, 0, 0.06, CurrentShare}, {"mean_a", 5, 0, 0.1, CurrentShare}, {"max_a", 30, 0, 0.6, CurrentShare}, {"inrush_a", 28, 0, 0.56, CurrentShare},
		{"drawn_as", 350, 0, 7, CurrentShare}, {"load_index", (5. - 3) / l.Units[0].RatedCurrentA, 0, 0.04 / l.Units[0].RatedCurrentA, CurrentShare},
		{"extra.water.mean", 14, 0, 0, NoShared}, {"extra.water.min", 13, 0, 0, NoShared}, {"extra.water.max", 16, 0, 0, NoShared},
	} {
		v := r.Measure(c.name)
		same(t, c.name, v, c.v, c.u)
		if !near(v.UCommon, c.common, 1e-12) || v.Share != c.share || !near(v.Total(), math.Hypot(c.u, c.common), 1e-12) || len(v.From) == 0 {
			t.Errorf("%s: got common %g of %q, total %g, from %v", c.name, v.UCommon, v.Share, v.Total(), v.From)
		}
	}
	if note := r.Measure("laeq_db").Note; note != "1.0 dB taken off for a background of 73.0 dB" {
		t.Errorf("note: %q", note)
	}
	rec := jammed()
	run := &rec.Result.Runs[0]
	run.Motor, run.Sound, run.MotorOnS = rig.Motor{MeanA: rig.Fig(5)}, rig.Sound{}, rig.Figure{}
	r = only(t, l, rec)
	for name, why := range map[string]string{"laeq_db": "not-measured", "idle_a": "not-measured", "load_index": "not-measured", "drawn_as": "no-motor-on-time",
		"extra.water.mode": "not-measured", "extra.room.mean": "no-such-channel", "hand.build": "unknown-measure"} {
		v := r.Measure(name)
		lacks(t, name, v.Figure, why)
		if v.U != 0 || v.UCommon != 0 {
			t.Errorf("%s: an uncertainty of nothing: %+v", name, v)
		}
	}
	l.Units[0].RatedCurrentA = 0 // of a session's own lab, where another unit was on the bench than its nameplate is of
	lacks(t, "load_index", only(t, l, jammed()).Measure("load_index").Figure, "no-rated-current")
	r = only(t, l, told("unit-a", 1))
	for _, m := range rig.Measures {
		if v := r.Measure(m.Name); v.OK || v.Why == "" {
			t.Errorf("%s of a run by hand without figures: got %+v", m.Name, v)
		}
	}
	lacks(t, "extra", r.Measure("extra.water.mean").Figure, "not-recorded")
}

// TestEveryMeasure: whatever the fixed set names is measured by something.
func TestEveryMeasure(t *testing.T) {
	l := testLab(t)
	l.Procedures[0].After.Passed = true
	rec := jammed()
	rec.Facts = weighed(append(everything(), net(rig.Passed, "", 700))...).Facts
	r := only(t, l, rec)
	for _, m := range rig.Measures {
		if v := r.Measure(m.Name); !v.OK || m.Counted() && v.U != 0 {
			t.Errorf("%s: %+v", m.Name, v)
		}
	}
}

func TestTypedMeasures(t *testing.T) {
	l := testLab(t)
	rec := jammed()
	rec.Facts = weighed(everything()...).Facts
	for _, c := range []struct {
		fact, name   string
		v, u, common float64
		old          float64
	}{
		{"measure.run_time_s=75~0.5", "run_time_s", 75, 0.5, 0, 70},
		{"measure.run_time_s=75", "run_time_s", 75, math.Sqrt2 * 0.3, 0, 70}, // two presses of a stopwatch
		{"measure.trips=0", "trips", 0, 0, 0, 1},
		{"measure.laeq_db=77", "laeq_db", 77, 1, 0.4, 79},
		{"measure.mean_a=6", "mean_a", 6, 0.3, 0, 5},
		{"measure.drawn_as=400", "drawn_as", 400, 20, 0, 350},
		{"measure.left_g=60", "left_g", 60, math.Sqrt(6), 0, 50},
		{"measure.input_g=1200", "input_g", 1200, math.Sqrt2, 0, 1000},
		{"measure.left_share=0.06", "left_share", 0.06, math.Sqrt(7) / 1000, 0, 0.05},
		{"measure.discharge_g=940", "discharge_g", 940, math.Sqrt(7), 0, 950},
		{"measure.load_index=0.4", "load_index", 0.4, 0, 0, 2 / l.Units[0].RatedCurrentA},
	} {
		r := only(t, l, say(rec, "measure.run_time_s=1", c.fact)) // the last counts
		v := r.Measure(c.name)
		same(t, c.fact, v, c.v, c.u)
		if !v.Typed || !near(v.UCommon, c.common, 1e-12) || len(v.From) != 1 || v.From[0].What != "correction" || v.From[0].Fact != 101 {
			t.Errorf("%s: %+v", c.fact, v)
		}
		if c.name != "run_time_s" && !near(v.Old.V, c.old, 1e-9) {
			t.Errorf("%s: old %v, want %g", c.fact, v.Old, c.old)
		}
		if !remarked(r, "corrected: "+strings.Split(c.fact, "=")[0]) {
			t.Errorf("%s: remarks %q", c.fact, r.Remarks)
		}
	}
	r := only(t, l, say(rec, "measure.left_g=60"))
	same(t, "the share of a mass typed over", r.Measure("left_share"), 0.06, math.Sqrt(6+0.0036*2)/1000)
	r = only(t, l, say(rec, "measure.left_g=absent"))
	lacks(t, "taken back", r.Measure("left_g").Figure, "taken-back")
	lacks(t, "its share", r.Measure("left_share").Figure, "chamber-taken-back")
	if old := r.Measure("left_g").Old; !old.OK || old.V != 50 {
		t.Errorf("old: %v", old)
	}
	r = only(t, l, say(rec, "measure.left_g=NaN", "measure.input_g=1e999"))
	for _, name := range []string{"left_g", "input_g", "left_share"} {
		if v := r.Measure(name); v.OK {
			t.Errorf("%s: %+v", name, v)
		}
	}
	l.Procedures[0].Items = nil
	r = only(t, l, say(rec, "measure.left_share=0.06"))
	same(t, "a share of an unknown charge", r.Measure("left_share"), 0.06, 0.0006)
}

// TestAskingTwice: what scoring keeps and what a reader asks for are the same.
func TestAskingTwice(t *testing.T) {
	r := only(t, testLab(t), jammed())
	kept := len(r.taken)
	for range 2 {
		for _, m := range rig.Measures {
			if a, b := r.Measure(m.Name), r.Measure(m.Name); a.Figure != b.Figure || a.U != b.U {
				t.Errorf("%s: %v, then %v", m.Name, a, b)
			}
		}
	}
	if len(r.taken) != kept || kept == 0 {
		t.Errorf("a reader wrote into a run: %d kept, then %d", kept, len(r.taken))
	}
}
