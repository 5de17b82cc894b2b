package run_test

import (
	"math"
	"testing"
)

// TestStopsBesideARestlessOne stops an induction motor while something goes on that draws less than it could empty, and
// wavers, as what turns does. The turntable coasts for seconds.
func TestStopsBesideARestlessOne(t *testing.T) {
	const stop = 24.0
	sound := func(t float64) float64 {
		switch {
		case t < 3:
			return 45
		case t >= stop:
			return max(45, 70-9*(t-stop))
		}
		return 70
	}
	motor := func(t float64) complex128 {
		switch {
		case t < 3 || t >= stop:
			return 0
		case t < 3.3:
			return complex(22, -20)
		}
		return complex(0.4, -3.9)
	}
	mixer := func(t float64) complex128 {
		if t < 10 {
			return 0
		}
		a := 1.3 * (1 + 2*math.Exp(-(t-10)/0.15)) * (1 + 0.03*math.Sin(21*t) + 0.02*math.Sin(8*t))
		return complex(a*0.8, -a*0.6)
	}
	w := wired{conductor: conductor{motor: motor, other: mixer, laDB: sound}, third: 0.03, rest: 0.03}
	if got, warned := w.play(32, setup()); got != "motor_start@3.0 motor_stop@24.0" {
		t.Errorf("got %s\n%v", got, warned)
	}
	b := bench{motor: "induction", lockedA: 25, stepS: 0.1, seconds: 32, course: []moment{
		{0, 0, 0, 0, 45, 46, 33, false}, {3, 22, 0.001, 0, 70, 71, 60, false}, {3.4, 3.4, 0.001, 0, 70, 71, 60, false}, {10, 3.9, 0.001, 0, 70, 71, 60, false}}}
	for s := stop; s < 32; s += 0.1 {
		la := max(45, 70-4*(s-stop))
		b.course = append(b.course, moment{s, 1.5, 0.001, 0, la, la + 1, la - 10, false})
	}
	if got, warned := b.play(); got != "motor_start@3 motor_stop@24" {
		t.Errorf("readings: got %s\n%v", got, warned)
	}
}
