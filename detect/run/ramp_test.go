package run_test

import (
	"math"
	"testing"
)

// TestEndOfARamp lets a motor's current fall to what it draws empty long after the start, which looks like a stop beside
// another appliance until the sound has gone on for long enough. A load that comes then and goes again leaves no appliance
// behind.
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
	for _, c := range []struct {
		name, motor, want string
		startA, loadA     float64
		idleA, afterDB    float64
		stepS             []float64
	}{
		{"its load goes", "permanent-magnet", "motor_start@3 motor_stop@22", 2.4, 2.4, 0.5, 66, []float64{0, 0.05}},
		{"it stops beside what came unseen", "permanent-magnet", "motor_start@3 motor_stop@14", 2.4, 2.4, 0.5, 36, []float64{0, 0.05}},
		{"an induction motor's load goes", "induction", "motor_start@3 motor_stop@22", 24, 5, 2.8, 62, []float64{0.05}},
	} {
		t.Run(c.name, func(t *testing.T) {
			at := func(fromS, rmsA, dev, aDB float64) moment {
				return moment{fromS, rmsA, dev, map[bool]float64{true: 0.57}[c.motor != "induction"], aDB, aDB - 1, aDB - 12, false}
			}
			for _, stepS := range c.stepS {
				b := bench{motor: c.motor, lockedA: 25, stepS: stepS, seconds: 26, course: []moment{at(0, 0, 0.0005, 35), at(3, c.startA, 0.03, 80),
					at(3.3, c.loadA, 0.06, 80), at(14, c.idleA, 0.0005, c.afterDB), at(22, 0, 0.0005, 35)}}
				if got, w := b.play(); got != c.want {
					t.Errorf("step %g s: got %s, want %s\n%v", stepS, got, c.want, w)
				}
			}
		})
	}
}

// TestSlowedDown loads a series motor so evenly that its current rises slowly and is no more ragged for it, or with dull
// blows that its own treble falls behind: it slows down, and is quieter, which neither drift nor another appliance does.
func TestSlowedDown(t *testing.T) {
	at := func(fromS, rmsA, dev, aDB, topDB float64) moment {
		return moment{fromS, rmsA, dev, 0.06, aDB, aDB, topDB, false}
	}
	for _, c := range []struct {
		name   string
		stepS  float64
		blowDB float64
	}{{"evenly, by readings", 0.2, 0}, {"evenly, by readings close together", 0.05, 0}, {"evenly", 0, 0}, {"with dull blows", 0, 12}} {
		b := bench{motor: "universal", ratedA: 4.2, lockedA: 17, stepS: c.stepS, seconds: 24, course: []moment{at(0, 0, 0.0005, 35, 22), at(3, 6, 0.002, 66, 60), at(3.4, 1.8, 0.003, 66, 60)}}
		for age := 0.0; age < 5; age += 0.1 {
			slow := 1.2 * age
			if c.blowDB > 0 {
				slow = 5
			}
			m := at(8+age, 1.8+0.18*age, 0.003, 66-slow, 60-slow)
			if c.blowDB > 0 {
				m = at(8+age, 2.2, 0.006, 66-slow, 60-slow)
			}
			b.course = append(b.course, m)
			if c.blowDB > 0 { // three in four tenths
				if n := int(math.Round(10 * age)); n%4 != 0 {
					b.course[len(b.course)-1] = at(8+age, 2.25, 0.02, 66+c.blowDB, 57)
				}
			}
		}
		b.course = append(b.course, at(13, 1.8, 0.003, 66, 60), at(21, 0, 0.0005, 35, 22))
		loads := b.loads()
		if len(loads) != 2 || loads[0].AtS.V < 7.5 || loads[0].AtS.V > 10 || !(math.Abs(loads[1].AtS.V-13) <= 1) {
			t.Errorf("%s: %v", c.name, loads)
		}
	}
}

// TestCoastsBesideWhatCameUnseen: a turntable that coasts for seconds is heard for as long, while what flows on is as even as
// only another appliance's current.
func TestCoastsBesideWhatCameUnseen(t *testing.T) {
	at := func(fromS, rmsA, aDB float64) moment {
		return moment{fromS, rmsA, 0.0005, 0.57, aDB, aDB + 4, aDB - 12, false}
	}
	b := bench{motor: "permanent-magnet", lockedA: 12, seconds: 26, course: []moment{at(0, 0, 35), at(3, 2.4, 66), at(3.5, 0.8, 66),
		at(9, 1.1, 66), at(14, 0.3, 66), at(15, 0.3, 64), at(16, 0.3, 62), at(16.8, 0.3, 54), at(17.2, 0.3, 40)}}
	if got, w := b.play(); got != "motor_start@3 motor_stop@14" {
		t.Errorf("got %s\n%v", got, w)
	}
}
