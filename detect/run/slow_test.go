package run_test

import (
	"math"
	"testing"

	"quern/rig"
)

// TestStepsOfTheMotorsOwn steps the current of an induction motor up within a cycle, and it stays: an appliance that
// lags behind the voltage would have had an inrush.
func TestStepsOfTheMotorsOwn(t *testing.T) {
	set := setup()
	set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "induction", 6, 30
	motor := func(t float64) complex128 {
		a := 3.9
		switch {
		case t < 3 || t >= 26:
			return 0
		case t < 3.3:
			a = 27
		case t >= 8 && t < 20:
			a = 5.5
		}
		if t >= 13 && t < 17 {
			a = 8.4
		}
		if a > 3.9 && t > 4 {
			a *= 1 + 0.015*math.Sin(2*math.Pi*2.3*t)
		}
		return complex(0, -a)
	}
	got, w := conductor{motor: motor, other: func(float64) complex128 { return 0 }, deaf: true}.play(28, set)
	if want := "motor_start@3.0 overload_start@13.0 overload_end@17.0 motor_stop@26.0"; got != want {
		t.Errorf("got %s, want %s; %v", got, want, w)
	}
}

// TestSlowBench covers long run-ups, a recording that begins in a stall, and readings far apart.
func TestSlowBench(t *testing.T) {
	off := moment{0, 0, 0, 0, 45, 45, 30, false}
	for _, c := range []struct {
		name, want string
		bench
	}{
		{"a run-up of a second and a half", "motor_start@3 motor_stop@9",
			bench{motor: "induction", lockedA: 25, seconds: 12, deaf: true, course: []moment{off, {3, 3.5, 0.001, 0.05, 0, 0, 0, false}, {9, 0, 0, 0, 0, 0, 0, false}},
				fall: func(age float64) float64 { return 1 + 6*max(1-0.09*age, 0.8)/(1+math.Exp((age-1.4)/0.04)) }}},
		{"begins with the rotor locked, beside a tap", "motor_start@0 stall_start@0 stall_end@5 trip@5 motor_start@12 motor_stop@17",
			bench{motor: "induction", lockedA: 25, seconds: 20, course: []moment{{0, 25, 0.001, 0.05, 56, 60, 44, false}, {5, 0, 0, 0, 56, 60, 44, false}, {12, 3.5, 0.001, 0.05, 68, 68, 56, false}, {17, 0, 0, 0, 56, 60, 44, false}},
				fall: nil}},
		{"limited far above rated, and nothing is heard", "motor_start@3 stall_start@13 stall_end@17 trip@17",
			bench{motor: "permanent-magnet", seconds: 20, deaf: true, course: []moment{off, {3, 1.2, 0.004, 0.85, 0, 0, 0, false}, {8, 3.5, 0.002, 0.75, 0, 0, 0, false}, {13, 16, 0.0005, 0.6, 0, 0, 0, false}, {17, 0, 0, 0, 0, 0, 0, false}}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got, w := c.play(); got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
			}
		})
	}
}

// TestLoadByLongReadings tells when load came and went from readings longer than a block.
func TestLoadByLongReadings(t *testing.T) {
	for _, step := range []float64{0.25, 0.5} {
		b := bench{motor: "permanent-magnet", lockedA: 25, stepS: step, deaf: true, seconds: 40,
			course: []moment{{0, 0, 0, 0, 0, 0, 0, false}, {3.2, 1.2, 0.0005, 0, 0, 0, 0, false}, {10.2, 4.5, 0.03, 0, 0, 0, 0, false}, {20.2, 1.2, 0.0005, 0, 0, 0, 0, false}, {34.2, 0, 0, 0, 0, 0, 0, false}}}
		from, to := math.NaN(), math.NaN()
		for _, e := range b.loads() {
			if e.Kind == rig.LoadStart {
				from = e.AtS.V
			} else {
				to = e.AtS.V
			}
		}
		if !(math.Abs(from-10.2) <= 1+step && math.Abs(to-20.2) <= 2+step) {
			t.Errorf("readings %g s apart: load from %.1f to %.1f s, want 10.2 to 20.2", step, from, to)
		}
	}
}

// The plainest benches: a sine for a current that stands at a height, a sound that comes with it and hisses, no inrush.
// An induction motor's and one's before a corrector look like that, and like a heater's but for the sound.
func TestPlainStart(t *testing.T) {
	for motor, emptyA := range map[string]float64{"induction": 3.2, "permanent-magnet": 0.9} {
		b := bench{motor: motor, lockedA: 30, seconds: 26, course: []moment{{0, 0, 0, 0, 45, 43.5, 42, false}, {5, emptyA, 0.001, 0, 72, 70.5, 69, false}, {20, 0, 0, 0, 45, 43.5, 42, false}}}
		if got, _ := b.play(); got != "motor_start@5 motor_stop@20" {
			t.Errorf("%s: %s", motor, got)
		}
	}
}

// TestPlainSteps: steps of such currents are the motor's own; nothing says that they are another's.
func TestPlainSteps(t *testing.T) {
	at := func(fromS, rmsA, aDB float64) moment {
		return moment{fromS, rmsA, 0.0005, 0, aDB, aDB - 1.5, aDB - 3, false}
	}
	off := at(0, 0, 45)
	for _, c := range []struct {
		name, motor, want string
		deaf              bool
		course            []moment
		loadS             [2]float64
	}{
		{"a follower", "permanent-magnet", "motor_start@5 overload_start@15 overload_end@20 motor_stop@26", false,
			[]moment{off, at(5, 0.9, 72), at(10, 4.5, 72), at(15, 8, 72), at(20, 0.9, 72), at(26, 0, 45)}, [2]float64{10, 20}},
		{"a follower, and nothing is heard", "permanent-magnet", "motor_start@5 overload_start@15 overload_end@20 motor_stop@26", true,
			[]moment{off, at(5, 0.9, 72), at(10, 4.5, 72), at(15, 8, 72), at(20, 0.9, 72), at(26, 0, 45)}, [2]float64{10, 20}},
		{"induction, and nothing is heard", "induction", "motor_start@5 motor_stop@26", true,
			[]moment{off, at(5, 3.2, 72), at(10, 4.8, 72), at(18, 3.2, 72), at(26, 0, 45)}, [2]float64{10, 18}},
	} {
		b := bench{motor: c.motor, lockedA: 30, seconds: 30, deaf: c.deaf, course: c.course}
		if got, _ := b.play(); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
		es := b.loads()
		if len(es) != 2 || !(math.Abs(es[0].AtS.V-c.loadS[0]) <= 0.5) || !(math.Abs(es[1].AtS.V-c.loadS[1]) <= 0.5) {
			t.Errorf("%s: load %v, want it from %g to %g s", c.name, es, c.loadS[0], c.loadS[1])
		}
	}
}
