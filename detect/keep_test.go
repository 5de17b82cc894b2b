package detect

import (
	"math"
	"testing"

	"quern/config"
	"quern/rig"
)

// hissed pushes seconds of an 8 kHz recording of a motor that only hisses, from 20 s on, in a room that hums, and of the current of its
// clamp up to clampS, and returns the analysis before its end.
func hissed(t *testing.T, seconds, clampS float64) *Analysis {
	t.Helper()
	set := config.Setup{Bench: config.DefaultBench()}
	set.Unit = config.Unit{ID: "unit-a", RatedCurrentA: 6, LockedRotorA: 33, Motor: "induction"}
	set.Procedure = config.Procedure{ID: "mixed", TimeLimitS: 240, Clock: "motor-on", LongestPauseS: 900}
	a, err := New(set, []rig.Stream{
		{Channel: rig.Microphone, Form: rig.Waveform, RateHz: 8000, Unit: rig.FullScale},
		{Channel: rig.Clamp, Form: rig.Waveform, RateHz: 1000, Unit: rig.Ampere},
	}, Trace{})
	if err != nil {
		t.Fatal(err)
	}
	push := func(c rig.Channel, rate, fromS float64, hum, amplitude, hz float64) {
		x := make([]float64, int(rate))
		for i := range x {
			at := fromS + float64(i)/rate
			x[i] = 1e-5*math.Sin(at*at*3e4) + hum*math.Sin(2*math.Pi*100*at)
			if at >= 20 {
				x[i] += amplitude * math.Sin(2*math.Pi*hz*at)
			}
		}
		if err := a.Push(rig.Block{Channel: c, StartS: fromS, Samples: x}); err != nil {
			t.Fatal(err)
		}
	}
	for at := 0.0; at < seconds; at++ {
		push(rig.Microphone, 8000, at, 0.003, 0.01, 3000)
		if at < clampS {
			push(rig.Clamp, 1000, at, 0, 4*math.Sqrt2, 60)
		}
		a.endLaggards(at)
	}
	return a
}

// What is kept of the sound does not grow with the recording: neither where only hiss is heard of a motor that the clamp
// sees, nor after the end of the clamp's recording.
func TestSoundKeptBesideAClamp(t *testing.T) {
	for _, clampS := range []float64{400, 30} {
		a := hissed(t, 400, clampS)
		if n := len(a.frames); n > 600 {
			t.Errorf("clamp to %g s: %d frames wait for the machine, want 6 s of them at most", clampS, n)
		}
		if n := len(a.books); n != 1 {
			t.Errorf("clamp to %g s: %d books, want only the one of the runs that the current shows", clampS, n)
		}
		for i, b := range a.books {
			if n := len(b.frames); n > 13500 {
				t.Errorf("clamp to %g s: book %d keeps %d frames, want 135 s of them at most", clampS, i, n)
			}
		}
	}
}
