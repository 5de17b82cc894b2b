package run_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"quern/config"
	"quern/detect/run"
	"quern/rig"
)

// vectors is what hangs on one conductor as a waveform shows it: fundamentals, A RMS, with the real part in phase with
// the voltage, and the third harmonics of all together, A RMS. What is heard says nothing: somebody talks all the time.
type vectors struct {
	motor, other func(t float64) complex128
	third        func(t float64) float64
	laDB         func(t float64) float64 // nil: no microphone
}

// runs gives the machine half-cycle records of them and returns what it finds.
func (v vectors) runs(seconds float64, set config.Setup) []run.Found {
	return v.hum(seconds, set, func(float64) float64 { return 4 })
}

// hum is the same with a C-level so much above the A-level, dB.
func (v vectors) hum(seconds float64, set config.Setup, overDB func(t float64) float64) []run.Found {
	rng := rand.New(rand.NewPCG(5, 6))
	m := run.NewMachine(set)
	heard := 0
	for k := 2; float64(k)/120 < seconds; k++ {
		t := float64(k) / 120
		for ; v.laDB != nil && float64(heard)/100+0.01 <= t; heard++ {
			at := float64(heard) / 100
			e := 0.01 * 20e-6 * 20e-6 * math.Pow(10, (v.laDB(at)+0.3*rng.NormFloat64())/10)
			m.Heard(run.Heard{StartS: at, EndS: at + 0.01, EA: e, EC: e * math.Pow(10, overDB(at)/10), ET: math.NaN()})
		}
		at := t - 1.0/120
		i, third := v.motor(at)+v.other(at), v.third(at)+0.003*rng.Float64()
		fund := cmplx.Abs(i) * (1 + 0.0005*rng.NormFloat64())
		rms := math.Hypot(math.Hypot(fund, third), 0.01*(1+0.1*rng.NormFloat64()))
		peak := rms * math.Sqrt2
		if third > 0.3*fund {
			peak = 2.4 * rms
		}
		m.Current(run.Current{StartS: t - 1.0/60, EndS: t, RMSA: rms, SwingA: rms, FundA: fund, ThirdA: third, PeakA: peak,
			Quarters: [4]float64{peak, peak, peak, peak}, Turns: 60*t + cmplx.Phase(i)/(2*math.Pi), Locked: fund > 0.3, Wave: true})
	}
	return m.Finish(seconds)
}

// play returns the starts, stalls and stops found.
func (v vectors) play(seconds float64, set config.Setup) string {
	return switchings(v.runs(seconds, set))
}

// switchings are the events of runs but those of the load, to the tenth of a second.
func switchings(runs []run.Found) string {
	var got []string
	for _, r := range runs {
		for _, e := range r.Events {
			if e.Kind != rig.LoadStart && e.Kind != rig.LoadEnd {
				got = append(got, fmt.Sprintf("%s@%.1f", e.Kind, e.AtS.V))
			}
		}
	}
	return strings.Join(got, " ")
}

// turns is an induction motor without load: its current stands a quarter turn behind the voltage when its inrush is over.
func turns(from, to float64) func(float64) complex128 {
	return func(t float64) complex128 {
		switch {
		case t < from || t >= to:
			return 0
		case t < from+0.3:
			return complex(22, -20)
		}
		return complex(0.4, -3.9)
	}
}

func fromTo(from, to float64, i complex128) func(float64) complex128 {
	return func(t float64) complex128 {
		if t < from || t >= to {
			return 0
		}
		return i
	}
}

// compressor is a small induction motor with an inrush of 0.35 s, which lags the voltage by 0.9 rad.
func compressor(from, to, amps float64) func(float64) complex128 {
	return func(t float64) complex128 {
		switch {
		case t < from || t >= to:
			return 0
		case t < from+0.35:
			return cmplx.Rect(5.5*amps, -0.9)
		}
		return cmplx.Rect(amps, -0.9)
	}
}

// TestVectors tells an invented 6 A motor's starts and stops from other appliances' on the same conductor by the
// vector, the course and the third harmonic of the current, where no sound does.
func TestVectors(t *testing.T) {
	const start, stop = 5.0, 30.0
	induction := turns(start, stop)
	rectified := func(t float64) complex128 {
		switch {
		case t < start || t >= stop:
			return 0
		case t < start+0.05:
			return 9
		}
		return 1.5
	}
	running := func(amps float64) func(float64) float64 {
		return func(t float64) float64 {
			if t < start || t >= stop {
				return 0
			}
			return amps
		}
	}
	steady := func(amps float64) func(float64) float64 { return func(float64) float64 { return amps } }
	talk := func(from float64) func(float64) float64 { // with gaps, as words have
		return func(t float64) float64 {
			if t < from || math.Mod(t, 2) < 0.15 {
				return 45
			}
			return 70
		}
	}
	for _, c := range []struct {
		name, motor string
		vectors     vectors
		want        string
	}{
		{"a stop beside a heater, its third harmonic goes", "induction", vectors{induction, fromTo(20, 50, 12), running(0.2), talk(start)}, "motor_start@5.0 motor_stop@30.0"},
		{"the same without a third harmonic, beside a smaller one", "induction", vectors{induction, fromTo(20, 50, 5), steady(0), talk(start)}, "motor_start@5.0 motor_stop@30.0"},
		{"the heater is switched off first", "induction", vectors{induction, fromTo(12, 24, 5), running(0.2), talk(start)}, "motor_start@5.0 motor_stop@30.0"},
		{"the heater of a motor that stops, half a second before it does", "induction", vectors{induction, fromTo(29.5, 50, 5), running(0.2), talk(start)}, "motor_start@5.0 motor_stop@30.0"},
		{"a compressor before the start", "induction", vectors{induction, compressor(3, 50, 1.4), running(0.2), nil}, "motor_start@5.0 motor_stop@30.0"},
		{"a small compressor after the stop", "induction", vectors{induction, compressor(32, 50, 0.4), running(0.2), nil}, "motor_start@5.0 motor_stop@30.0"},
		{"a heater before the start, while somebody talks", "induction", vectors{induction, fromTo(3, 50, 4), running(0.2), talk(3.5)}, "motor_start@5.0 motor_stop@30.0"},
		{"a heater after a rectified motor's stop, and somebody talks", "permanent-magnet", vectors{rectified, fromTo(33, 50, 5), running(1), func(t float64) float64 {
			if t >= stop && t < 33 {
				return 45
			}
			return talk(start)(t)
		}}, "motor_start@5.0 motor_stop@30.0"},
		{"lamps from the beginning beside a brushed motor", "universal", vectors{func(t float64) complex128 {
			if i := induction(t); i != 0 {
				return complex(cmplx.Abs(i), 0)
			}
			return 0
		}, fromTo(0, 50, 0.4), func(t float64) float64 { return 0.3 + running(0.3)(t) }, nil}, "motor_start@5.0 motor_stop@30.0"},
		{"a compressor before a brushed motor that has no harmonics", "universal", vectors{func(t float64) complex128 {
			return complex(cmplx.Abs(induction(t)), 0)
		}, compressor(3, 50, 1.4), steady(0), talk(start)}, "motor_start@5.0 motor_stop@30.0"},
		{"lamps from the beginning, through a clamp whose noise they hide, and a compressor before the stop", "permanent-magnet", vectors{rectified, func(t float64) complex128 {
			return (0.4 + compressor(12, 50, 0.7)(t)) * complex(1+0.02*math.Sin(2*math.Pi*37.3*t), 0)
		}, running(1), talk(start)}, "motor_start@5.0 motor_stop@30.0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := setup()
			set.Unit.Motor = c.motor
			if got := c.vectors.play(40, set); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// TestHiddenNoise looks at what is told of the clamp's own noise, which what flows all the time hides.
func TestHiddenNoise(t *testing.T) {
	motor := func(t float64) complex128 {
		return fromTo(5, 5.3, complex(18, -20))(t) + fromTo(5, 20, complex(0.4, -3.9))(t)
	}
	heard := func(t float64) float64 { return 45 + 25*real(fromTo(5, 20, 1)(t)) }
	for _, c := range []struct {
		name   string
		otherA complex128
		want   rig.Figure
	}{
		{"nothing else flows", 0, rig.Fig(0.01)},
		{"another appliance all the time", 2, rig.Absent("noise-hidden")},
	} {
		set := setup()
		set.Unit.Motor = "induction"
		got := vectors{motor, fromTo(0, 50, c.otherA), func(float64) float64 { return 0 }, heard}.runs(25, set)
		if len(got) != 1 || got[0].NoiseA.Why != c.want.Why || !(math.Abs(got[0].NoiseA.V-c.want.V) <= 0.001) {
			t.Errorf("%s: %v, noise %v", c.name, got, got[0].NoiseA)
		}
	}
}

// TestLacksThird: a compressor that starts in a pause has an inrush, but not the third harmonic that a motor with brushes
// was seen to draw. The motor itself has it from its start on.
func TestLacksThird(t *testing.T) {
	series := func(from, to float64) func(float64) complex128 {
		return func(t float64) complex128 {
			if t < from || t >= to {
				return 0
			}
			return complex(1.6+6.4*math.Exp(-(t-from)/0.1), 0)
		}
	}
	for _, c := range []struct {
		name, want    string
		motor2, other func(float64) complex128
	}{
		{"a compressor", "motor_start@3.0 motor_stop@14.0", series(50, 50), compressor(20, 30, 1)},
		{"one with as high an inrush, taken for the motor, does not stop where that is over", "motor_start@3.0 motor_stop@14.0 motor_start@20.0 motor_stop@30.0", series(50, 50), compressor(20, 30, 1.6)},
		{"the motor", "motor_start@3.0 motor_stop@14.0 motor_start@20.0 motor_stop@30.0", series(20, 30), fromTo(50, 50, 0)},
	} {
		set := setup()
		set.Unit.Motor, set.Unit.RatedCurrentA, set.Unit.LockedRotorA = "universal", 3.3, 0
		motor := func(t float64) complex128 { return series(3, 14)(t) + c.motor2(t) }
		third := func(t float64) float64 { return 0.12 * real(motor(t)) }
		if got := (vectors{motor: motor, other: c.other, third: third}).play(36, set); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}
