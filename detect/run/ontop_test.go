package run_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"quern/rig"
)

// TestBeganBesideAnother begins the recording with another appliance's current, about as much as a motor draws: the motor's
// start comes on top of it. A motor that ran already, and is loaded or jammed for a moment, starts no second time.
func TestBeganBesideAnother(t *testing.T) {
	at := func(fromS, rmsA, ragged, aDB float64) moment {
		return moment{fromS, rmsA, ragged, 0.05, aDB, aDB + 1, aDB - 12, false}
	}
	starts := func(otherA, idleA float64) []moment {
		return []moment{at(0, otherA, 0.001, 45), at(7, 22, 0.001, 60), at(7.4, idleA, 0.001, 70), at(18, otherA, 0.001, 45)}
	}
	for _, c := range []struct {
		name, motor, want string
		deaf              bool
		steps             []float64
		course            []moment
	}{
		{"a kettle, and an induction motor", "induction", "motor_start@7 motor_stop@18", false, []float64{0, 0.02, 0.1}, starts(4, 5.2)},
		{"a lamp, and nothing is heard", "permanent-magnet", "motor_start@7 motor_stop@18", true, []float64{0, 0.02}, starts(0.5, 1.8)},
		{"a lamp that draws less than any empty motor, through the clamp's noise", "permanent-magnet", "motor_start@7 motor_stop@18", true, []float64{0},
			[]moment{at(0, 0.3, 0.03, 45), at(7, 10, 0.001, 60), at(7.4, 1.2, 0.02, 70), at(18, 0.3, 0.03, 45)}},
		{"a motor that bites hard", "permanent-magnet", "motor_start@0 motor_stop@18", true, []float64{0, 0.02},
			[]moment{at(0, 0.8, 0.02, 45), at(7, 14, 0.001, 60), at(7.3, 2.5, 0.02, 70), at(12, 0.8, 0.02, 45), at(18, 0, 0, 35)}},
		{"a quiet motor that is jammed for a moment", "induction", "motor_start@0 stall_start@7 stall_end@7 motor_stop@18", false, []float64{0},
			[]moment{at(0, 4, 0.001, 55), at(7, 22, 0.001, 58), at(7.5, 4.6, 0.03, 63), at(12, 4, 0.001, 55), at(18, 0, 0, 35)}},
	} {
		for _, step := range c.steps {
			t.Run(fmt.Sprintf("%s, %g s", c.name, step), func(t *testing.T) {
				b := bench{motor: c.motor, lockedA: 25, stepS: step, deaf: c.deaf, seconds: 22, course: c.course}
				got, w := b.play()
				began := slices.ContainsFunc(w, func(w rig.Warning) bool { return w.Code == "began-running" })
				if got != c.want || began != (c.want[:len("motor_start@0")] == "motor_start@0") {
					t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
				}
			})
		}
	}
}

// TestKettleThatWandersFromTheBeginning: the supply moves what a kettle draws by a few per cent, which is no start.
func TestKettleThatWandersFromTheBeginning(t *testing.T) {
	b := bench{motor: "permanent-magnet", lockedA: 25, stepS: 0.1, seconds: 22}
	for s := 0.0; s < 22; s += 0.5 {
		m := moment{s, 11.3 * (1 + 0.015*math.Sin(2*s)), 0.0005, 0, 45, 46, 33, false}
		if s >= 8 && s < 16 {
			m.rmsA, m.aDB, m.cDB, m.topDB = m.rmsA+2, 70, 71, 60
		}
		b.course = append(b.course, m)
	}
	if got, w := b.play(); got != "motor_start@8 motor_stop@16" {
		t.Errorf("got %s\n%v", got, w)
	}
}
