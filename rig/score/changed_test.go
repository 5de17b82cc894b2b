package score

import (
	"fmt"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
)

// Events of one kind are paired with their nearest; what has no partner is gone or new, and what moved by less than
// anybody could see is the same.
func TestEventChanges(t *testing.T) {
	at := func(times ...float64) (out []rig.Event) {
		for _, s := range times {
			out = append(out, rig.Event{Kind: rig.StallStart, AtS: rig.Fig(s)}, rig.Event{Kind: rig.StallEnd, AtS: rig.Fig(s + 1)})
		}
		return out
	}
	for _, c := range []struct {
		old, new []rig.Event
		want     string
	}{
		{at(10, 20), at(10, 20), ""},
		{at(10, 20), at(10, 20.5), "20>20.5 "},
		{at(10, 20), at(20), "10 gone "},
		{at(10, 20), at(10), "20 gone "},
		{at(10, 20, 30), at(21), "10 gone 20>21 30 gone "},
		{at(20), at(10, 20), "10 new "},
		{at(20), at(20, 30), "30 new "},
		{at(21), at(10, 20, 30), "10 new 21>20 30 new "},
		{nil, at(10), "10 new "},
	} {
		got := ""
		for _, e := range eventChanges(rig.StallStart, c.old, c.new) {
			switch {
			case !e.New.OK:
				got += fmt.Sprintf("%g gone ", e.Old.V)
			case !e.Old.OK:
				got += fmt.Sprintf("%g new ", e.New.V)
			default:
				got += fmt.Sprintf("%g>%g ", e.Old.V, e.New.V)
			}
		}
		if got != c.want {
			t.Errorf("%v to %v: got %q, want %q", c.old, c.new, got, c.want)
		}
	}
}

// Two analyses of the same session differ in what is said, and in nothing else.
func TestChanged(t *testing.T) {
	l := withUnits(testLab(t), "unit-a")
	l.Procedures[0].Gates = []config.Gate{atMost("stalls", 0, "all")}
	with := func(stalls int, motorOnS float64) *Campaign {
		rec := weighed()
		r := &rec.Result.Runs[0]
		r.MotorOnS, r.RunTimeS = rig.Fig(motorOnS), rig.Fig(motorOnS)
		r.Motor.MeanA, r.Motor.MaxA = rig.Fig(1), rig.Fig(1) // current was recorded
		for i := range stalls {
			r.Events = append(r.Events, rig.Event{Kind: rig.StallStart, AtS: rig.Fig(110 + float64(i))}, rig.Event{Kind: rig.StallEnd, AtS: rig.Fig(110.5 + float64(i))})
		}
		return mustScore(t, l, []rig.Record{rec})
	}
	if got := Changed(with(1, 60), with(1, 60)); len(got) > 0 {
		t.Errorf("alike, but told as %+v", got)
	}
	got := Changed(with(0, 60), with(1, 61))
	if len(got) != 1 || got[0].Unit != "unit-a" || got[0].Outcome != [2]Outcome{Passed, Failed} || len(got[0].Events) != 2 {
		t.Fatalf("got %+v", got)
	}
	var measures []string
	for _, m := range got[0].Measures {
		measures = append(measures, fmt.Sprintf("%s %g>%g", m.Measure, m.Old.V, m.New.V))
	}
	if text := strings.Join(measures, ", "); text != "run_time_s 60>61, motor_on_s 60>61, stalls 0>1, stall_s 0>0.5, drawn_as 60>61" {
		t.Errorf("measures: %s", text)
	}
	lost := Changed(with(0, 60), mustScore(t, l, nil))
	if len(lost) != 1 || lost[0].Run == "" || lost[0].Outcome[0] != Passed || lost[0].Outcome[1] != "" {
		t.Errorf("a run that is gone: %+v", lost)
	}
}

// Where all earn the same, none is the best of them.
func TestBestOfEqualPoints(t *testing.T) {
	c := mustRank(t, mustScore(t, withUnits(testLab(t), "unit-a", "unit-b"), timed("unit-a 50", "unit-b 50"))).Campaign
	for _, u := range c.Units {
		u.criteria(func(_ *TestScore, k *CriterionScore) {
			if k.Best || k.Worst {
				t.Errorf("%s: best %v, worst %v", u.Unit.ID, k.Best, k.Worst)
			}
		})
	}
}
