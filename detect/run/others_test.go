package run_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"quern/config"
	"quern/detect/run"
	"quern/rig"
)

// conductor is what hangs on one conductor over time: the currents of the motor and of what else there is, in
// phase with the voltage and behind it, and the level of what is heard.
type conductor struct {
	motor, other func(t float64) complex128 // A RMS; the real part is in phase with the voltage
	laDB         func(t float64) float64
	deaf         bool
}

// play gives the machine what a clamp and a microphone make of it.
func (c conductor) play(seconds float64, set config.Setup) (events string, warnings []rig.Warning) {
	return wired{conductor: c}.play(seconds, set)
}

// wired is a conductor whose motor's current has harmonics, and a sound whose level above 4 kHz is known.
type wired struct {
	conductor
	third float64                 // share of the motor's fundamental
	rest  float64                 // and all that is not the fundamental
	ltDB  func(t float64) float64 // nil: not known
}

func (c wired) play(seconds float64, set config.Setup) (events string, warnings []rig.Warning) {
	rng := rand.New(rand.NewPCG(3, 4))
	m := run.NewMachine(set)
	heard := 0
	for k := 2; float64(k)/120 < seconds; k++ {
		t := float64(k) / 120
		for ; !c.deaf && float64(heard)/100+0.01 <= t; heard++ {
			at := float64(heard) / 100
			e := 0.01 * 20e-6 * 20e-6 * math.Pow(10, (c.laDB(at)+0.3*rng.NormFloat64())/10)
			et := math.NaN()
			if c.ltDB != nil {
				et = 0.01 * 20e-6 * 20e-6 * math.Pow(10, c.ltDB(at)/10)
			}
			m.Heard(run.Heard{StartS: at, EndS: at + 0.01, EA: e, EC: 2.5 * e, ET: et})
		}
		own := c.motor(t - 1.0/240)
		i := own + c.other(t-1.0/240)
		v := math.Hypot(cmplx.Abs(i), 0.01*(1+0.1*rng.NormFloat64())) * (1 + 0.0005*rng.NormFloat64())
		fund := v
		v = math.Hypot(v, c.rest*cmplx.Abs(own))
		p := v*math.Sqrt2 + c.rest*cmplx.Abs(own) // a rectifier's pulses pass the sine that they come on
		m.Current(run.Current{StartS: t - 1.0/60, EndS: t, RMSA: v, SwingA: v, FundA: fund, ThirdA: c.third * cmplx.Abs(own), PeakA: p, Quarters: [4]float64{p, p, p, p},
			Turns: 60*t + cmplx.Phase(i)/(2*math.Pi), Locked: v > 0.5, Wave: true})
	}
	return switchings(m.Finish(seconds)), m.Warnings()
}

// TestOthers puts another appliance on the conductor of an invented 6 A induction motor: what it draws is not the
// motor's load. A load that is not heard and does not turn the phase as a heater does stays one.
func TestOthers(t *testing.T) {
	const stop = 30.0
	motor := func(t float64) complex128 { // no-load current a quarter turn behind the voltage, load along it
		switch {
		case t < 3 || t >= stop:
			return 0
		case t < 3.3:
			return complex(22, -20)
		case t > 6 && t < 9:
			return complex(3, -3.9)
		}
		return complex(0.4, -3.9)
	}
	sound := func(t float64) float64 {
		switch {
		case t < 3:
			return 45
		case t >= stop:
			return max(45, 70-25*(t-stop)) // coasts
		case t > 6 && t < 9:
			return 78
		}
		return 70
	}
	between := func(from, to, amps float64) func(float64) complex128 {
		return func(t float64) complex128 {
			if t < from || t >= to {
				return 0
			}
			return complex(amps, 0)
		}
	}
	none := func(float64) complex128 { return 0 }
	for _, c := range []struct {
		name          string
		conductor     conductor
		want, warning string
	}{
		{"none", conductor{motor, none, sound, false}, "motor_start@3.0 motor_stop@30.0", ""},
		{"a heater while it runs", conductor{motor, between(12, 22, 8), sound, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater while it runs, all levels the same", conductor{motor, between(12, 22, 8), func(t float64) float64 {
			if t < 3 || t >= stop {
				return sound(t)
			}
			return 70
		}, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater that stays on after it", conductor{motor, between(20, 40, 8), sound, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater that goes just after the motor", conductor{motor, between(20, stop+0.25, 8), sound, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater from before it to the middle", conductor{motor, between(1, 15, 8), sound, false},
			"motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a compressor after it", conductor{motor, func(t float64) complex128 {
			switch {
			case t < 32 || t > 45:
				return 0
			case t < 32.35:
				return complex(4, -5)
			}
			return complex(0.7, -0.9)
		}, sound, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"an overload that nothing is heard of", conductor{func(t float64) complex128 {
			if t > 12 && t < 20 {
				return complex(0.8, -8.8) // the whole current grows, its phase stays
			}
			if t > 6 && t < 9 {
				return motor(5)
			}
			return motor(t)
		}, none, func(t float64) float64 {
			if t < 3 || t >= stop {
				return sound(t)
			}
			return 70
		}, false}, "motor_start@3.0 overload_start@12.0 overload_end@20.0 motor_stop@30.0", ""},
		{"a load without a microphone: it comes within some cycles", conductor{func(t float64) complex128 {
			if t > 12 && t < 20 {
				return complex(7.5-7.1*math.Exp(-(t-12)/0.02), -3.9)
			}
			if t > 6 && t < 9 {
				return motor(5)
			}
			return motor(t)
		}, none, sound, true}, "motor_start@3.0 overload_start@12.0 overload_end@20.0 motor_stop@30.0", ""},
		{"a heater without a microphone: it outlives the motor's stop", conductor{motor, between(12, 34, 8), sound, true},
			"motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"an overload that comes and goes at once, without a microphone", conductor{motor, between(12, 22, 8), sound, true},
			"motor_start@3.0 overload_start@12.0 overload_end@22.0 motor_stop@30.0", ""},
		{"an overload that comes at once, unheard, and trips", conductor{motor, between(24, stop, 8), sound, false},
			"motor_start@3.0 overload_start@24.0 overload_end@30.0 trip@30.0", ""},
		{"an overload that comes at once and is a little louder", conductor{motor, between(12, 20, 8), func(t float64) float64 {
			if t > 12 && t < 20 {
				return 74
			}
			return sound(t)
		}, false}, "motor_start@3.0 overload_start@12.0 overload_end@20.0 motor_stop@30.0", ""},
		{"a heater amid a ragged load", conductor{func(t float64) complex128 {
			if t > 6 && t < 12 {
				return complex(3+0.8*math.Sin(2*math.Pi*5*t)*math.Sin(2*math.Pi*1.3*t), -3.9)
			}
			return motor(t)
		}, between(8.4, 22, 8), sound, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater in the run-up", conductor{func(t float64) complex128 {
			if t > 3 && t < 3.6 {
				return complex(0.4, -3.9) + complex(20, -16)*complex(1/(1+math.Exp((t-3.3)/0.03)), 0)
			}
			return motor(t)
		}, between(3.42, 15, 8), sound, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater that was there when the motor started", conductor{motor, between(2.97, 15, 8), sound, false},
			"motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater of more than a socket's share of a small motor, without a microphone", conductor{motor, between(12, 20, 15.5), sound, true},
			"motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater from the first record on, without a microphone", conductor{motor, between(-1, 40, 9), sound, true},
			"motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater from the first record on, and a tap", conductor{motor, between(-1, 1.8, 9), func(t float64) float64 {
			return max(sound(t), 62)
		}, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a heater that came with a jolt of the load, and outlives the stop", conductor{func(t float64) complex128 {
			if t > 12 && t < 12.3 {
				return complex(9*math.Sin((t-12)/0.3*math.Pi), -3.9)
			}
			return motor(t)
		}, between(12, 34, 8), sound, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
		{"a piece that bites as a compressor starts, and is ground then", conductor{func(t float64) complex128 {
			switch {
			case t > 12 && t < 12.12:
				return complex(0.4, -3.9) + complex(3, -3)*complex(1-math.Exp(-(t-12)/0.008), 0)
			case t > 12 && t < 16:
				return complex(2+1.2*math.Sin(2*math.Pi*3.3*t)*math.Sin(2*math.Pi*1.3*t), -4.2)
			}
			return motor(t)
		}, none, sound, true}, "motor_start@3.0 motor_stop@30.0", ""},
		{"an overload that shrinks along itself, unheard", conductor{func(t float64) complex128 {
			if t > 12 && t < 16 {
				return 2.55 * motor(t)
			}
			return motor(t)
		}, none, sound, false}, "motor_start@3.0 overload_start@12.0 overload_end@16.0 motor_stop@30.0", ""},
		{"a compressor while it runs", conductor{motor, func(t float64) complex128 {
			switch {
			case t < 12 || t > 26:
				return 0
			case t < 12.4:
				return complex(5, -6)
			}
			return complex(0.9, -1.1)
		}, sound, false}, "motor_start@3.0 motor_stop@30.0", "other-appliance"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, warnings := c.conductor.play(40, setup())
			if got != c.want {
				t.Errorf("got  %s\nwant %s\n%v", got, c.want, warnings)
			}
			told := false
			for _, w := range warnings {
				told = told || w.Code == "other-appliance"
			}
			if told != (c.warning != "") {
				t.Errorf("other-appliance told: %v, in %v", told, warnings)
			}
		})
	}
}

// TestTooLittleWithASound: a sound that comes with a current which is not the motor's may be the motor, the clamp being set wrongly.
func TestTooLittleWithASound(t *testing.T) {
	for _, c := range []struct {
		name  string
		sound func(t float64) float64
		want  string
	}{
		{"heard", func(t float64) float64 {
			if t > 3 && t < 30 {
				return 75
			}
			return 40
		}, "full_scale_a"},
		{"not heard", func(float64) float64 { return 40 }, "no motor was heard"},
	} {
		t.Run(c.name, func(t *testing.T) {
			quarter := func(t float64) complex128 {
				switch {
				case t < 3 || t >= 30:
					return 0
				case t < 3.3:
					return complex(5.5, -5)
				}
				return complex(0.1, -1)
			}
			_, warnings := conductor{quarter, func(float64) complex128 { return 0 }, c.sound, false}.play(40, setup())
			for _, w := range warnings {
				if w.Code == "other-appliance" && strings.Contains(w.Text, c.want) {
					return
				}
			}
			t.Errorf("no other-appliance with %q in %v", c.want, warnings)
		})
	}
}
