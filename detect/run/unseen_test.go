package run_test

import (
	"math"
	"testing"
)

// TestGoesThatCameUnseen switches a heater on amid a jolt of the load, which hides that it comes. What goes within a cycle, in
// phase with the voltage, while the motor is heard to go on and keeps its harmonics, was an appliance all the time.
func TestGoesThatCameUnseen(t *testing.T) {
	jolts := func(at float64) float64 { // about 12 s
		if at < 11.6 || at >= 12.4 {
			return 0
		}
		return 6 * math.Sin(2*math.Pi*7*at) * math.Sin(2*math.Pi*2.3*at)
	}
	heater := func(amps float64) func(float64) complex128 {
		return func(at float64) complex128 {
			if at < 12 || at >= 22 {
				return 0
			}
			return complex(amps, 0)
		}
	}
	series := func(amps float64) func(float64) complex128 {
		return func(at float64) complex128 {
			switch {
			case at < 3 || at >= 30:
				return 0
			case at < 3.2:
				return 14
			case at < 8 || at >= 26:
				return 2
			}
			return complex(amps+max(jolts(at), -1), 0)
		}
	}
	fed := steps(0.1, stretch{11.94, 0}, stretch{16, 4}, stretch{30, 0})
	induction := func(moves float64) func(float64) complex128 {
		return func(at float64) complex128 {
			switch {
			case at < 3 || at >= 30:
				return 0
			case at < 3.3:
				return complex(22, -20)
			}
			load := 0.4 + fed(at) + moves*max(0, 1-math.Abs(at-22)/0.1) // a piece is caught as the heater goes
			return complex(load, -3.9)
		}
	}
	small := func(settles float64, other func(float64) complex128) func(float64) complex128 { // and a compressor beside it from 6 s on, which may settle slowly
		return func(at float64) complex128 {
			switch {
			case at < 6:
				return 0
			case at < 6.35:
				return complex(4, -5)
			}
			return complex(0.9, -1.1)*complex(1+settles*math.Exp(-(at-6.35)/1.5), 0) + other(at)
		}
	}
	louder := steps(0.1, stretch{3, 45}, stretch{11.94, 70}, stretch{16, 79}, stretch{30, 70}, stretch{40, 45})
	sound := steps(0.1, stretch{3, 45}, stretch{30, 70}, stretch{40, 45})
	for _, c := range []struct {
		name, motor string
		w           wired
	}{
		{"beside a series motor under load", "universal", wired{conductor{series(3), heater(9), sound, false}, 0.06, 0.06, nil}},
		{"as the load of an induction motor moves a little", "induction", wired{conductor: conductor{induction(4), heater(8), louder, false}}},
		{"beside one that is known", "induction", wired{conductor: conductor{induction(0), small(0, heater(8)), sound, false}}},
		{"beside a series motor and one that is known", "universal", wired{conductor{series(2), small(1.2, heater(7)), sound, false}, 0.06, 0.06, nil}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, w := c.w.play(38, of(c.motor))
			if want := "motor_start@3.0 motor_stop@30.0"; got != want {
				t.Errorf("got  %s\nwant %s\n%v", got, want, w)
			}
		})
	}
}
