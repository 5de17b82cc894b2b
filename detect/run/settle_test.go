package run_test

import (
	"math"
	"testing"
)

// TestSlowInrush lets the current of a start take tens of cycles to decay: while it falls no load has begun, however far it
// stands above what it comes to, and its idle current is what it comes to. Readings of few digits are no more ragged for
// that.
func TestSlowInrush(t *testing.T) {
	at := func(fromS, rmsA, ragged, aDB float64) moment {
		return moment{fromS, rmsA, ragged, 0, aDB, aDB - 1, aDB - 12, false}
	}
	for _, c := range []struct {
		motor         string
		idleA, ratedA float64
		inrush        float64 // times the idle current, on top of it
		stepS, digitA float64
		deaf          bool
	}{
		{"permanent-magnet", 0.8, 4, 20, 0, 0, true},
		{"permanent-magnet", 0.8, 4, 20, 0.1, 0.01, false},
		{"permanent-magnet", 0.8, 4, 8, 0.2, 0, true},
		{"permanent-magnet", 0.8, 4, 6, 0.1, 0, false},
		{"induction", 3.5, 5, 6, 0, 0, false},
		{"induction", 2.1, 3, 7, 0.1, 0.01, true},
	} {
		b := bench{motor: c.motor, lockedA: 25, ratedA: c.ratedA, stepS: c.stepS, digitA: c.digitA, deaf: c.deaf, seconds: 28, course: []moment{at(0, 0, 0, 35)}}
		for age := 0.0; age < 5.5; age += 0.01 {
			b.course = append(b.course, at(3+age, c.idleA*(1+c.inrush*math.Exp(-age/0.8)), 0, 65))
		}
		b.course = append(b.course, at(8.5, 1.5*c.idleA, 0.05, 78), at(16, c.idleA, 0, 65), at(25, 0, 0, 35))
		loads := b.loads()
		if len(loads) != 2 || !(math.Abs(loads[0].AtS.V-8.5) <= 0.5) || !(math.Abs(loads[1].AtS.V-16) <= 1) {
			t.Errorf("%+v: %v", c, loads)
		}
		if runs, w := b.runs(); len(runs) != 1 || !(math.Abs(runs[0].IdleA.V/c.idleA-1) <= 0.005) {
			t.Errorf("%+v: %v %v", c, runs, w)
		}
	}
}
