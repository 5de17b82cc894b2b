package run_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
)

// of returns the setup with another motor of 6 A, whose locked rotor's current is not on the nameplate.
func of(motor string) config.Setup {
	s := setup()
	s.Unit.Motor, s.Unit.RatedCurrentA, s.Unit.LockedRotorA = motor, 6, 0
	return s
}

// stretch is a value up to an instant.
type stretch struct{ untilS, v float64 }

// steps returns the course of such stretches; each is reached in rampS, and what follows the last is 0.
func steps(rampS float64, s ...stretch) func(t float64) float64 {
	return func(t float64) float64 {
		for i, x := range s {
			if t >= x.untilS {
				continue
			}
			if i > 0 && t < s[i-1].untilS+rampS {
				return s[i-1].v + (x.v-s[i-1].v)*(t-s[i-1].untilS)/rampS
			}
			return x.v
		}
		return 0
	}
}

// TestGuests puts a heater beside motors whose harmonics tell their own current from what heats, at the same time as
// what the motor does itself.
func TestGuests(t *testing.T) {
	along := func(f func(float64) float64, rad float64) func(float64) complex128 {
		return func(t float64) complex128 { s, c := math.Sincos(rad); return complex(f(t)*c, f(t)*s) }
	}
	heater := func(from, to, amps float64) func(float64) complex128 {
		return along(steps(0, stretch{from, 0}, stretch{to, amps}), 0)
	}
	grinding := func(f func(float64) float64) func(float64) float64 {
		return func(t float64) float64 { return f(t) * (1 + 0.03*math.Sin(40*t)) }
	}
	grindingFrom := func(from, to float64, f func(float64) float64) func(float64) float64 {
		return func(t float64) float64 {
			if t < from || t > to {
				return f(t)
			}
			return grinding(f)(t)
		}
	}
	runs := steps(0.1, stretch{3, 45}, stretch{30, 70}, stretch{40, 45})
	const ripple = 0.75 // of a rectifier's fundamental
	for _, c := range []struct {
		name, motor, want string
		w                 wired
	}{
		{"a heater beside a rectifier's motor, and an overload meanwhile", "permanent-magnet",
			"motor_start@3.0 overload_start@12.0 overload_end@16.0 motor_stop@30.0",
			wired{conductor{along(steps(0.05, stretch{3, 0}, stretch{12, 1}, stretch{16, 7}, stretch{30, 1}), 0), heater(9, 22, 9), runs, false}, 0.6, ripple, nil}},
		{"the same without a microphone", "permanent-magnet",
			"motor_start@3.0 overload_start@12.0 overload_end@16.0 motor_stop@30.0",
			wired{conductor{along(steps(0.05, stretch{3, 0}, stretch{12, 1}, stretch{16, 7}, stretch{30, 1}), 0), heater(9, 22, 9), runs, true}, 0.6, ripple, nil}},
		{"a heater beside a series motor", "universal", "motor_start@3.0 motor_stop@30.0",
			wired{conductor{along(steps(0.05, stretch{3, 0}, stretch{3.2, 14}, stretch{30, 2}), -0.2), heater(9, 22, 9), runs, false}, 0.06, 0.06, nil}},
		{"a step of its own is its own", "universal", "motor_start@3.0 overload_start@12.0 overload_end@16.0 motor_stop@30.0",
			wired{conductor{along(steps(0, stretch{3, 0}, stretch{3.2, 14}, stretch{12, 2}, stretch{16, 10}, stretch{30, 2}), -0.2), heater(40, 41, 1), runs, false}, 0.06, 0.06, nil}},
		{"and one that only hums meanwhile is a stall, whatever the nameplate tells", "universal", "motor_start@3.0 stall_start@12.0 stall_end@16.0 motor_stop@30.0",
			wired{conductor{along(steps(0, stretch{3, 0}, stretch{3.2, 9}, stretch{12, 2}, stretch{16, 10}, stretch{30, 2}), -0.2), heater(40, 41, 1),
				steps(0.02, stretch{3, 45}, stretch{12, 70}, stretch{16, 52}, stretch{30, 70}, stretch{40, 45}), false}, 0.06, 0.06, nil}},
		{"a series motor that only hums at less than its rated current runs", "universal", "motor_start@3.0 motor_stop@30.0",
			wired{conductor{along(steps(0.05, stretch{3, 0}, stretch{3.2, 14}, stretch{12, 2}, stretch{14, 5.5}, stretch{30, 2}), -0.2), heater(40, 41, 1),
				steps(0.1, stretch{3, 45}, stretch{12, 70}, stretch{14, 62}, stretch{30, 70}, stretch{40, 45}), false}, 0.06, 0.06, nil}},
		{"what fills the capacitors is no locked rotor's current", "permanent-magnet", "motor_start@3.0 overload_start@12.0 overload_end@16.0 motor_stop@30.0",
			wired{conductor{along(grinding(steps(0.05, stretch{3, 0}, stretch{3.15, 15}, stretch{12, 1}, stretch{16, 11}, stretch{30, 1})), 0), heater(40, 41, 1), runs, false}, 0.6, ripple, nil}},
		{"a stall while someone speaks", "permanent-magnet", "motor_start@3.0 stall_start@12.0 stall_end@14.0 motor_stop@30.0",
			wired{conductor{along(steps(0.02, stretch{3, 0}, stretch{12, 1}, stretch{14, 7}, stretch{30, 1}), 0), heater(40, 41, 1), runs, false}, 0.6, ripple,
				steps(0.02, stretch{3, 35}, stretch{12, 55}, stretch{14, 45}, stretch{30, 55}, stretch{40, 35})}},
		{"electronics let a rotor that stands draw less than one that turns", "permanent-magnet", "motor_start@3.0 stall_start@12.0 stall_end@16.0 overload_start@16.1 overload_end@19.0 motor_stop@30.0",
			wired{conductor{along(grindingFrom(16, 19, steps(0, stretch{3, 0}, stretch{12, 1}, stretch{16, 3.2}, stretch{19, 7.5}, stretch{30, 1})), 0), heater(40, 41, 1),
				steps(0.02, stretch{3, 45}, stretch{12, 70}, stretch{16, 52}, stretch{30, 72}, stretch{40, 45}), false}, 0.6, ripple, nil}},
		{"and a heater comes meanwhile", "permanent-magnet", "motor_start@3.0 stall_start@12.0 stall_end@16.0 motor_stop@30.0",
			wired{conductor{along(steps(0, stretch{3, 0}, stretch{12, 1}, stretch{16, 3.2}, stretch{30, 1}), 0), heater(14, 20, 3),
				steps(0.02, stretch{3, 45}, stretch{12, 70}, stretch{16, 52}, stretch{30, 72}, stretch{40, 45}), false}, 0.6, ripple, nil}},
		{"which may be as much as it draws of a load", "permanent-magnet", "motor_start@3.0 motor_stop@30.0",
			wired{conductor{along(steps(0, stretch{3, 0}, stretch{12, 1}, stretch{16, 3.2}, stretch{30, 1}), 0), heater(40, 41, 1), runs, false}, 0.6, ripple, nil}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got, warnings := c.w.play(38, of(c.motor)); got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, warnings)
			}
		})
	}
}

// TestRestlessLoad: what grinds raggedly makes steps of the current all the time, and none of them is another appliance's.
// What stands out from them is.
func TestRestlessLoad(t *testing.T) {
	set := setup()
	set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "permanent-magnet", 4, 20
	for seed := range uint64(12) {
		rng, x := rand.New(rand.NewPCG(seed, 1)), 0.0
		ragged := make([]float64, 30*240)
		for i := range ragged { // noise below 3 Hz
			ragged[i] = 1 + 0.3*x
			x = 0.9245*x + 0.381*rng.NormFloat64()
		}
		own := func(t float64) complex128 {
			switch {
			case t < 4 || t >= 24:
				return 0
			case t < 4.2:
				return 18
			case t < 8 || t >= 16:
				return 0.9
			}
			return complex(0.9+2*max(ragged[int(t*240)], 0.15), 0)
		}
		for _, kettle := range []float64{0, 9} {
			other := func(t float64) complex128 {
				if t >= 12 && t < 15 {
					return complex(kettle, 0)
				}
				return 0
			}
			sound := func(t float64) float64 {
				switch {
				case t < 4 || t >= 24:
					return 40
				case t < 8 || t >= 16:
					return 66
				}
				return 74
			}
			got, w := wired{conductor: conductor{own, other, sound, false}, third: 0.45, rest: 0.5}.play(27, set)
			if told := slices.ContainsFunc(w, func(w rig.Warning) bool { return w.Code == "other-appliance" }); told != (kettle > 0) || got != "motor_start@4.0 motor_stop@24.0" {
				t.Errorf("seed %d, a kettle of %g A: %s, %v", seed, kettle, got, w)
			}
		}
	}
}

// TestRestlessLoadTakesNothingOff: a heater is known, and the steps of a ragged load that are of its size do not end it.
func TestRestlessLoadTakesNothingOff(t *testing.T) {
	for seed := range uint64(24) {
		rng := rand.New(rand.NewPCG(seed, 2))
		ragged, x := make([]float64, 30*240), 0.0
		for i := range ragged { // noise below 3 Hz, which the rotor's inertia smooths; the load has gone by 16 s
			x = 0.9245*x + 0.381*rng.NormFloat64()
			due := max(1.5+1.5*x, 0) * min(1, max(0, 16-float64(i)/240))
			ragged[i] = ragged[max(i-1, 0)] + 0.2*(due-ragged[max(i-1, 0)])
		}
		own := func(t float64) complex128 {
			if t < 8 || t >= 16 {
				return turns(4, 24)(t)
			}
			return turns(4, 24)(t) + complex(ragged[int(t*240)], 0)
		}
		sound := steps(0.1, stretch{4, 40}, stretch{8, 66}, stretch{16, 74}, stretch{24, 66}, stretch{30, 40})
		got, w := wired{conductor: conductor{own, fromTo(2, 50, 3), sound, false}}.play(27, of("induction"))
		if went := slices.ContainsFunc(w, func(w rig.Warning) bool { return strings.Contains(w.Text, "switched off") }); went || got != "motor_start@4.0 motor_stop@24.0" {
			t.Errorf("seed %d: %s, %v", seed, got, w)
		}
	}
}
