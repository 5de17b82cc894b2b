package run_test

import "testing"

// TestBeganWith begins a recording with a current that flows. What this induction motor draws empty or loaded is its own
// from the first record on, whatever is heard; less, or pulses that it does not draw, is another appliance's.
func TestBeganWith(t *testing.T) {
	for _, c := range []struct {
		name, motor, want string
		rmsA, third, aDB  float64
	}{
		{"what the motor draws, now quiet and now loud", "induction", "motor_start@0 motor_stop@5", 4.2, 0, 40},
		{"less, as quiet", "induction", "", 1.8, 0, 40},
		{"less, all the time as loud as a motor", "induction", "motor_start@0 motor_stop@5", 1.8, 0, 75},
		{"a sine, as a motor behind a corrector draws it, and as loud as one", "permanent-magnet", "motor_start@0 motor_stop@5", 3, 0.02, 75},
		{"a sine, and as quiet as a heater", "permanent-magnet", "", 3, 0.02, 40},
		{"a sine that no empty motor draws, though something is as loud as one", "permanent-magnet", "", 8, 0.02, 75},
		{"pulses as a motor behind a rectifier draws them", "permanent-magnet", "motor_start@0 motor_stop@5", 2.4, 0.8, 75},
		{"pulses that a series motor does not draw", "universal", "", 2.4, 0.8, 75},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: c.motor, lockedA: 28, seconds: 5}
			for s := 0.0; s < 5; s++ {
				at := func(fromS, aDB float64) moment {
					return moment{fromS, c.rmsA, 0.003, c.third, aDB, aDB + 1, aDB - 8, false}
				}
				b.course = append(b.course, at(s, c.aDB), at(s+0.3, c.aDB+20), at(s+0.5, c.aDB))
			}
			if got, w := b.play(); got != c.want {
				t.Errorf("got %q, want %q\n%v", got, c.want, w)
			}
		})
	}
}
