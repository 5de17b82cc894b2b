package run_test

import "testing"

// TestDipsInReadings lets the supply dip for some tenths of a second while readings of an induction motor come: some of its
// current flows on, and it is back. What goes on flowing at that height, and strays about the level that tells on from off,
// is another appliance's, and the motor has stopped.
func TestDipsInReadings(t *testing.T) {
	at := func(fromS, rmsA, ragged, aDB float64) moment {
		return moment{fromS, rmsA, ragged, 0, aDB, aDB, aDB - 15, false}
	}
	start := []moment{at(0, 0.02, 0, 45), at(3, 24, 0, 70), at(3.3, 3.8, 0.005, 70)}
	for _, c := range []struct {
		name, want string
		stepS      float64
		rest       []moment
	}{
		{"a dip", "motor_start@3 motor_stop@15", 0.035, []moment{at(10, 1.2, 0.01, 68), at(10.25, 3.8, 0.005, 70), at(15, 0.02, 0, 45)}},
		{"a dip, with readings farther apart", "motor_start@3 motor_stop@15", 0.1, []moment{at(10, 1.2, 0.01, 68), at(10.4, 3.8, 0.005, 70), at(15, 0.02, 0, 45)}},
		{"a stop beside a compressor", "motor_start@3 motor_stop@15", 0.025, []moment{at(10, 4.4, 0.005, 70), at(15, 1.55, 0.05, 60), at(15.5, 1.55, 0.05, 45)}},
		{"a kettle at the very end", "motor_start@3 motor_stop@15", 0.035, []moment{at(15, 0.02, 0, 60), at(15.5, 0.02, 0, 45), at(19.85, 8, 0, 45)}},
		{"a waveform, and a kettle at the very end", "motor_start@3 motor_stop@15", 0, []moment{at(15, 0.02, 0, 60), at(15.5, 0.02, 0, 45), at(19.85, 8, 0, 45)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: "induction", lockedA: 26, stepS: c.stepS, seconds: 20, course: append(append([]moment(nil), start...), c.rest...)}
			if got, w := b.play(); got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
			}
		})
	}
}
