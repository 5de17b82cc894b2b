package detect_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"quern/rig"
)

// ground is the current of one invented run at a sample rate: a start, a load, a stall, an overload and a stop, with
// harmonics as an iron core makes them.
func ground(rateHz float64) *takes {
	t := &takes{curHz: rateHz, cutCur: int(rateHz / 4)}
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range int(30 * rateHz) {
		at := float64(i) / rateHz
		a := 0.0
		switch {
		case at < 3 || at >= 25:
		case at < 3.25:
			a = 28 * math.Exp((3-at)/0.6)
		case at >= 8 && at < 12:
			a = 5.5
		case at >= 14 && at < 15.5:
			a = 30
		case at >= 18 && at < 22:
			a = 9
		default:
			a = 4
		}
		p := 2 * math.Pi * 59.97 * at
		t.clamp = append(t.clamp, a*math.Sqrt2*(math.Sin(p)+0.08*math.Sin(3*p+0.4)+0.05*math.Sin(5*p))/math.Sqrt(1+0.08*0.08+0.05*0.05)+0.02*rng.NormFloat64())
	}
	return t
}

// TestSlowCurrent holds that a table of 400 rows a second gives what 8000 give: see rig.MinTableHz.
func TestSlowCurrent(t *testing.T) {
	want := analyse(t, ground(8000), setup())
	if len(want.Runs) != 1 || len(want.Runs[0].Events) != 8 {
		t.Fatalf("at 8 kHz: %+v", want.Runs)
	}
	w := want.Runs[0]
	for _, rateHz := range []float64{rig.MinTableHz, 450, 500, 999.8} {
		got := analyse(t, ground(rateHz), setup())
		if len(got.Runs) != 1 || len(got.Runs[0].Events) != len(w.Events) {
			t.Fatalf("%g Hz: %+v, want %+v", rateHz, got.Runs, want.Runs)
		}
		g := got.Runs[0]
		for i, e := range w.Events {
			if g.Events[i].Kind != e.Kind || !(math.Abs(g.Events[i].AtS.V-e.AtS.V) <= 0.02) {
				t.Errorf("%g Hz: got %+v, want %+v", rateHz, g.Events[i], e)
			}
		}
		near(t, "frequency", g.Motor.FrequencyHz, 59.97, 0.01)
		near(t, "idle", g.Motor.IdleA, w.Motor.IdleA.V, 0.005*w.Motor.IdleA.V)
		near(t, "mean", g.Motor.MeanA, w.Motor.MeanA.V, 0.002*w.Motor.MeanA.V)
		near(t, "max", g.Motor.MaxA, w.Motor.MaxA.V, 0.03*w.Motor.MaxA.V)
		near(t, "inrush", g.Motor.InrushA, w.Motor.InrushA.V, 0.035*w.Motor.InrushA.V)
	}
}
