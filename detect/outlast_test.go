package detect

import (
	"math"
	"strings"
	"testing"

	"quern/rig"
)

// cutTo returns what was recorded without what one channel gave from an instant on.
func cutTo(streams []rig.Stream, all map[rig.Channel]*rig.Block, c rig.Channel, endS float64) map[rig.Channel]*rig.Block {
	out := map[rig.Channel]*rig.Block{}
	for _, s := range streams {
		b := *all[s.Channel]
		if s.Channel == c {
			b.Samples = b.Samples[:min(int(endS*s.RateHz), len(b.Samples))]
			for i, r := range b.Readings {
				if r.AtS > endS {
					b.Readings = b.Readings[:i]
					break
				}
			}
		}
		out[s.Channel] = &b
	}
	return out
}

func told(res rig.Result, code string) string {
	var texts []string
	for _, w := range res.Warnings {
		if w.Code == code {
			texts = append(texts, w.Text)
		}
	}
	return strings.Join(texts, "; ")
}

func eventOf(r rig.Run, k rig.Kind) (rig.Event, bool) {
	for _, e := range r.Events {
		if e.Kind == k {
			return e, true
		}
	}
	return rig.Event{}, false
}

// The clamp's recording ends while the motor runs and the sound goes on: that is no stop. From there the state is
// unknown, and the stop is heard.
func TestClampEndsBeforeTheSound(t *testing.T) {
	for _, name := range []string{"plain", "rms-readings"} {
		set, streams, all := recorded(t, name)
		whole := feed(t, set, streams, all, "", 0, 0, 0.25, 0)
		stop := whole.Runs[0].EndS.V
		for _, earlyS := range []float64{3, 9, 20} {
			endS := stop - earlyS
			res := feed(t, set, streams, cutTo(streams, all, rig.Clamp, endS), "", 0, 0, 0.25, 0)
			if len(res.Runs) != 1 {
				t.Fatalf("%s, %g s early: %d runs, want 1", name, earlyS, len(res.Runs))
			}
			r := res.Runs[0]
			e, _ := eventOf(r, rig.MotorStop)
			if !(math.Abs(r.EndS.V-stop) <= 1) || e.Sure.V > 0.6 || !strings.Contains(e.Evidence, "sound fell") {
				t.Errorf("%s, %g s early: the run ends at %.2f s (%+v), it did at %.2f s", name, earlyS, r.EndS.V, e, stop)
			}
			if s := r.States[len(r.States)-1]; s.State != rig.Unknown || !(math.Abs(s.FromS.V-endS) <= 0.5) {
				t.Errorf("%s, %g s early: the last state is %+v, want unknown from %.2f s", name, earlyS, s, endS)
			}
			if _, ok := eventOf(r, rig.LoadEnd); ok {
				t.Errorf("%s, %g s early: a clear chamber is told, and nothing shows that it stayed so", name, earlyS)
			}
			if told(res, "clamp-ended") == "" || told(res, "ended-running") != "" {
				t.Errorf("%s, %g s early: warnings %v", name, earlyS, res.Warnings)
			}
			if got, want := r.Sound.LAeqDB, whole.Runs[0].Sound.LAeqDB; !(math.Abs(got.V-want.V) <= 0.3) {
				t.Errorf("%s, %g s early: LAeq %v, want %v: it covers the time until the motor was heard to stop", name, earlyS, got, want)
			}
		}
	}
}

// Both end while the motor runs, the clamp first: the stop is the end of the sound, and both are said.
func TestBothEndWhileItRuns(t *testing.T) {
	set, streams, all := recorded(t, "plain")
	stop := feed(t, set, streams, all, "", 0, 0, 0.25, 0).Runs[0].EndS.V
	cut := cutTo(streams, cutTo(streams, all, rig.Clamp, stop-6), rig.Microphone, stop-2)
	res := feed(t, set, streams, cut, "", 0, 0, 0.25, 0)
	if len(res.Runs) != 1 || !(math.Abs(res.Runs[0].EndS.V-(stop-2)) <= 0.05) || told(res, "clamp-ended") == "" || told(res, "ended-running") == "" {
		t.Errorf("%d runs, warnings %v", len(res.Runs), res.Warnings)
	}
}

// The clamp's recording ends before the motor starts: what is heard after it is not passed over.
func TestClampEndsBeforeTheStart(t *testing.T) {
	set, streams, all := recorded(t, "plain")
	start := feed(t, set, streams, all, "", 0, 0, 0.25, 0).Runs[0].StartS.V
	res := feed(t, set, streams, cutTo(streams, all, rig.Clamp, start-1), "", 0, 0, 0.25, 0)
	if len(res.Runs) != 1 || told(res, "clamp-ended") == "" || told(res, "clamp-saw-nothing") != "" || res.Runs[0].Motor.MeanA.Why != "clamp-ended" {
		t.Errorf("%d runs, warnings %v", len(res.Runs), res.Warnings)
	}
}

// The sound ends before the load does: load_end is then told by the current alone, and on an induction motor that is
// said.
func TestSoundEndsBeforeTheLoad(t *testing.T) {
	set, streams, all := recorded(t, "plain")
	set.Unit.Motor = "induction"
	whole := feed(t, set, streams, all, "", 0, 0, 0.25, 0)
	clear, ok := eventOf(whole.Runs[0], rig.LoadEnd)
	if !ok || told(whole, "load-end-by-current") != "" {
		t.Fatalf("load_end is not told by sound and current: %v", whole.Warnings)
	}
	res := feed(t, set, streams, cutTo(streams, all, rig.Microphone, clear.AtS.V-5), "", 0, 0, 0.25, 0)
	e, ok := eventOf(res.Runs[0], rig.LoadEnd)
	if !ok || strings.Contains(e.Evidence, "sound") || told(res, "load-end-by-current") == "" || told(res, "microphone-short") == "" {
		t.Errorf("load_end %+v, warnings %v", e, res.Warnings)
	}
}
