package run_test

import (
	"math"
	"testing"

	"quern/detect/run"
	"quern/rig"
)

// TestShowsAStopAtOnce: a stop is shown as soon as the clamp tells it, while the rotor coasts as loud as it ran. Where the
// sound never falls the clamp has come off its conductor, and what was shown is taken back.
func TestShowsAStopAtOnce(t *testing.T) {
	for _, c := range []struct {
		name   string
		fallsS float64 // when the sound falls
		end    rig.State
	}{{"coasts", 12.3, rig.Off}, {"the clamp comes off", 99, rig.Unknown}} {
		shown, last := 0.0, run.Now{}
		b := bench{motor: "universal", lockedA: 20, seconds: 16, course: []moment{{0, 0, 0, 0, 45, 45, 30, false},
			{3, 2, 0.004, 0.06, 66, 66, 56, false}, {12, 0, 0, 0, 66, 66, 56, false}, {c.fallsS, 0, 0, 0, 45, 45, 30, false}}}
		b.now = func(atS float64, n run.Now) {
			if last = n; shown == 0 && atS > 4 && n.State == rig.Off {
				shown = atS
				if e := n.Events[len(n.Events)-1]; n.Running || !(math.Abs(n.OnS-9) <= 0.02) || !(math.Abs(n.StopS-12) <= 0.02) || e.Kind != rig.MotorStop || !(math.Abs(e.AtS.V-12) <= 0.02) {
					t.Errorf("%s: shows %+v", c.name, n)
				}
			}
		}
		b.runs()
		if !(shown > 12 && shown <= 12.1) {
			t.Errorf("%s: the stop at 12 s is shown at %.2f s", c.name, shown)
		}
		if last.State != c.end {
			t.Errorf("%s: shows %s in the end, want %s", c.name, last.State, c.end)
		}
	}
}
