package run_test

import (
	"cmp"
	"math"
	"slices"
	"testing"
)

// TestHeardAtOnce starts a motor without an inrush, which is heard with its current. What clicks or thumps near that, far
// louder than the motor, makes it no heater; and a heater stays one.
func TestHeardAtOnce(t *testing.T) {
	const motor, none = "motor_start@5 motor_stop@15", ""
	for _, c := range []struct {
		name, want string
		runsDB     float64 // A-level with the current
		atS, lastS float64 // of a thump
	}{
		{"a click just after it", motor, 55, 5.2, 0.05},
		{"a thump that is loud when it is judged", motor, 55, 5.2, 0.4},
		{"a long one", motor, 55, 5.2, 0.6},
		{"a thump before it", motor, 50, 4.4, 0.15},
		{"no more than that thump", none, 30, 4.4, 0.15},
		{"no more than a thump after it", none, 30, 5.2, 0.2},
	} {
		t.Run(c.name, func(t *testing.T) {
			heard := func(fromS, rmsA, laDB float64) moment {
				return moment{fromS, rmsA, 0.0003, 0, laDB, laDB - 1, laDB - 12, false}
			}
			rmsA, laDB := 0.0, 30.0 // in the thump, and after it
			if c.atS > 5 {
				rmsA, laDB = 4, c.runsDB
			}
			b := bench{motor: "induction", lockedA: 28, seconds: 20, course: []moment{heard(0, 0, 30), heard(5, 4, c.runsDB), heard(15, 0, 30),
				heard(c.atS, rmsA, 85), heard(c.atS+c.lastS, rmsA, laDB)}}
			slices.SortFunc(b.course, func(a, b moment) int { return cmp.Compare(a.fromS, b.fromS) })
			if got, w := b.play(); got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
			}
		})
	}
}

// TestHeardMoreAsItRunsUp starts a motor behind a corrector, whose current shows no rectifier. What is heard with that, and
// is louder still once the first piece has struck, is heard with it no less.
func TestHeardMoreAsItRunsUp(t *testing.T) {
	at := func(fromS, rmsA, laDB float64) moment {
		return moment{fromS, rmsA, 0.0003, 0, laDB, laDB - 1, laDB - 12, false}
	}
	b := bench{motor: "permanent-magnet", ratedA: 4, lockedA: 18, seconds: 20, course: []moment{at(0, 0, 30)}}
	for age := 0.0; age < 4; age += 0.01 {
		laDB := 50.0
		switch {
		case age < 0.36:
			laDB = 46
		case age < 0.42:
			laDB = 80
		}
		b.course = append(b.course, at(5+age, 0.8+10*math.Exp(-age/0.5), laDB))
	}
	b.course = append(b.course, at(9, 0.8, 50), at(15, 0, 30))
	if got, w := b.play(); got != "motor_start@5 motor_stop@15" {
		t.Errorf("got %q\n%v", got, w)
	}
}
