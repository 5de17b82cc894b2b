package run_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestHeaterAmidLoad switches a heater on beside an invented 6 A induction motor that is being fed. What comes within a cycle
// in phase with the voltage is no load on a rotor that has inertia, whatever is heard; but what was heard to come, and goes
// with its sound, was the load of a recording that has none.
func TestHeaterAmidLoad(t *testing.T) {
	for _, c := range []struct {
		name       string
		loadA      float64 // from 8 to 14 s, brought up in 0.4 s
		heaterA    float64 // from 8 to 16 s
		loadDB     float64 // how much louder it is with load
		heaterDB   float64 // and with the heater
		want       string
		appliances int
	}{
		{"fed at the same time, and heard", 3, 7, 8, 0, "motor_start@3.0 motor_stop@24.0", 2},
		{"nothing is fed", 0, 7, 0, 0, "motor_start@3.0 motor_stop@24.0", 2},
		{"a load that comes and goes with its sound", 0, 7, 0, 9, "motor_start@3.0 overload_start@8.0 overload_end@16.0 motor_stop@24.0", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			load := steps(0.4, stretch{8, 0}, stretch{14, c.loadA}, stretch{24, 0})
			motor := func(at float64) complex128 {
				switch {
				case at < 3 || at >= 24:
					return 0
				case at < 3.3:
					return complex(22, -20)
				}
				return complex(0.4+load(at)*(1+0.1*math.Sin(40*at)), -3.9)
			}
			heater := func(at float64) complex128 {
				if at >= 8 && at < 16 {
					return complex(c.heaterA, 0)
				}
				return 0
			}
			sound := func(at float64) float64 {
				switch {
				case at < 3 || at >= 24:
					return 45
				case at >= 8 && at < 14:
					return 68 + max(c.loadDB, c.heaterDB)
				case at >= 14 && at < 16:
					return 68 + c.heaterDB
				}
				return 68
			}
			got, w := conductor{motor, heater, sound, false}.play(30, of("induction"))
			if got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
			if n := strings.Count(fmt.Sprint(w), "other-appliance"); n != c.appliances {
				t.Errorf("another appliance told %d times, want %d: %v", n, c.appliances, w)
			}
		})
	}
}

// TestHeaterInAStall switches a heater on just after a rotor has locked: that the current stepped once in the second before it is no
// raggedness.
func TestHeaterInAStall(t *testing.T) {
	motor := func(at float64) complex128 {
		switch {
		case at < 3 || at >= 24:
			return 0
		case at < 3.3, at >= 10 && at < 12:
			return complex(22, -20)
		}
		return complex(0.4, -3.9)
	}
	heater := func(at float64) complex128 {
		if at >= 10.6 && at < 18 {
			return 7
		}
		return 0
	}
	sound := steps(0.05, stretch{3, 45}, stretch{10, 68}, stretch{12, 58}, stretch{24, 68}, stretch{40, 45})
	got, w := conductor{motor, heater, sound, false}.play(30, of("induction"))
	if want := "motor_start@3.0 stall_start@10.0 stall_end@12.0 motor_stop@24.0"; got != want {
		t.Errorf("got  %s\nwant %s\n%v", got, want, w)
	}
	if !strings.Contains(fmt.Sprint(w), "at 10.59 s within a cycle") { // not only when it goes
		t.Errorf("the heater is not told when it comes: %v", w)
	}
}

// TestMotorsInALoudRoom: what is drowned is known by its current.
func TestMotorsInALoudRoom(t *testing.T) {
	loud := func(float64) float64 { return 50 }
	none := func(float64) complex128 { return 0 }
	for _, c := range []struct {
		name, motor, want string
		third, rest       float64
		amps              func(at float64) float64
		laDB              func(at float64) float64
	}{
		{"a rectifier's motor is brought up", "permanent-magnet", "motor_start@3.0 motor_stop@20.0", 0.6, 0.8, func(at float64) float64 {
			if at < 3 || at >= 20 {
				return 0
			}
			return min(60*(at-3), 0.9+9*math.Exp(-(at-3.1)/0.12))
		}, loud},
		{"what charges a capacitor in a cycle", "permanent-magnet", "", 0.6, 0.8, func(at float64) float64 {
			if at < 3 || at >= 20 {
				return 0
			}
			return 0.9 + 9*math.Exp(-(at-3)/0.01)
		}, loud},
		{"a series motor that was seen before, under load", "universal", "motor_start@3.0 motor_stop@8.0 motor_start@14.0 motor_stop@20.0", 0.06, 0.06, func(at float64) float64 {
			switch {
			case at >= 3 && at < 8:
				return 2 + 5*math.Exp(-(at-3)/0.1)
			case at >= 14 && at < 20:
				return 3.4 + 2*math.Exp(-(at-14)/0.03)
			}
			return 0
		}, steps(0.05, stretch{3, 40}, stretch{8, 52}, stretch{10, 40}, stretch{40, 52})},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, w := wired{conductor{func(at float64) complex128 { return complex(c.amps(at), 0) }, none, c.laDB, false}, c.third, c.rest, nil}.play(30, of(c.motor))
			if got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, w)
			}
		})
	}
}
