package run_test

import "testing"

// TestEndOfARamp lets a motor's current fall to what it draws empty long after the start, which looks like a stop beside
// another appliance until the sound has gone on for long enough. What flowed meanwhile is the motor's, so a load that
// comes then and goes again leaves no appliance behind.
func TestEndOfARamp(t *testing.T) {
	at := func(fromS, rmsA, dev, aDB float64) moment {
		return moment{fromS, rmsA, dev, 0.57, aDB, aDB - 1, aDB - 12, false}
	}
	for _, c := range []struct {
		name  string
		feedS float64
	}{
		{"while it was looked at", 6.9},
		{"afterwards", 7.3},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bench{motor: "permanent-magnet", lockedA: 12, stepS: 0.05, seconds: 26, course: []moment{at(0, 0, 0.0005, 35), at(3, 3.6, 0.02, 64),
				at(4.75, 0.77, 0.0005, 68), at(c.feedS, 1.8, 0.005, 73), at(14, 0.77, 0.0005, 68), at(22, 0, 0.0005, 35)}}
			if got, w := b.play(); got != "motor_start@3 motor_stop@22" {
				t.Errorf("got %s\n%v", got, w)
			}
		})
	}
}

// TestNeverSeenEmpty feeds a motor from its start on, so that its no-load current and sound show only when the load is gone:
// far below all that it drew, and quieter than it ever was, but as loud as nothing was before it started.
func TestNeverSeenEmpty(t *testing.T) {
	at := func(fromS, rmsA, dev, aDB float64) moment {
		return moment{fromS, rmsA, dev, 0.57, aDB, aDB - 1, aDB - 12, false}
	}
	for _, c := range []struct {
		name, want string
		afterDB    float64
	}{
		{"its load goes", "motor_start@3 motor_stop@22", 66},
		{"it stops beside what came unseen", "motor_start@3 motor_stop@14", 36},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, stepS := range []float64{0, 0.05} {
				b := bench{motor: "permanent-magnet", lockedA: 20, stepS: stepS, seconds: 26, course: []moment{at(0, 0, 0.0005, 35), at(3, 2.4, 0.1, 80),
					at(14, 0.5, 0.0005, c.afterDB), at(22, 0, 0.0005, 35)}}
				if got, w := b.play(); got != c.want {
					t.Errorf("step %g s: got %s, want %s\n%v", stepS, got, c.want, w)
				}
			}
		})
	}
}
