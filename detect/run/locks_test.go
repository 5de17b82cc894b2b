package run_test

import "testing"

// TestLocksWithinACycle locks the rotor of an induction motor from one cycle to the next, by a step of the current that could
// as well be a heater's, and frees it as sharply: the motor is not heard to turn in between.
func TestLocksWithinACycle(t *testing.T) {
	for _, c := range []struct {
		name, want string
		freeS      float64
		stood      complex128
	}{
		{"it comes free", "motor_start@3.0 stall_start@12.0 stall_end@15.0 motor_stop@20.0", 15, complex(15.2, -6)},
		{"it comes free late", "motor_start@3.0 stall_start@12.0 stall_end@19.0 motor_stop@20.0", 19, complex(15.2, -6)},
		{"it trips", "motor_start@3.0 stall_start@12.0 stall_end@20.0 trip@20.0", 30, complex(15.2, -6)},
	} {
		t.Run(c.name, func(t *testing.T) {
			motor := func(t float64) complex128 {
				switch {
				case t < 3 || t >= 20:
					return 0
				case t < 3.3:
					return complex(15, -13)
				case t >= 12 && t < c.freeS:
					return c.stood
				}
				return complex(2.4, -3.9)
			}
			sound := steps(0.02, stretch{3, 45}, stretch{12, 70}, stretch{min(c.freeS, 20), 55}, stretch{20, 70}, stretch{40, 45})
			set := setup()
			set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "induction", 6, 20
			got, w := conductor{motor, func(float64) complex128 { return 0 }, sound, false}.play(24, set)
			if got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
			}
		})
	}
}

// TestLocksBesideAHeater: what a heater draws beside a start is no part of what this motor draws locked, which no nameplate
// tells.
func TestLocksBesideAHeater(t *testing.T) {
	motor := func(t float64) complex128 {
		switch {
		case t < 3 || t >= 20:
			return 0
		case t < 3.3, t >= 12 && t < 15:
			return complex(15, -13)
		}
		return complex(1, -3.9)
	}
	heater := func(t float64) complex128 { return fromTo(-1, 8, 16)(t) }
	sound := steps(0.02, stretch{3, 45}, stretch{12, 70}, stretch{15, 55}, stretch{20, 70}, stretch{40, 45})
	set := setup()
	set.Unit.LockedRotorA = 0
	if got, w := (conductor{motor, heater, sound, false}).play(24, set); got != "motor_start@3.0 stall_start@12.0 stall_end@15.0 motor_stop@20.0" {
		t.Errorf("got  %s\n%v", got, w)
	}
}
