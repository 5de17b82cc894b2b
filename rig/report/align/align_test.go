package align

import (
	"math"
	"testing"

	"quern/acquire/sim"
)

func scenario(t testing.TB, name string, seed uint64) sim.Scenario {
	t.Helper()
	sc, ok := sim.Named(name, seed)
	if !ok {
		t.Fatalf("no scenario %q", name)
	}
	return sc
}

func TestFind(t *testing.T) {
	h := played(t, scenario(t, "stall-and-trip", 3))
	for _, s := range []shot{
		{seed: 1, rateHz: 48000, offsetS: 0, lastsS: 30, noiseDB: 60},
		{seed: 2, rateHz: 16000, offsetS: 12.3456, lastsS: 40, driftPPM: 100, noiseDB: 10, echo: true, gain: true},
	} {
		a, err := Find(film(h, s), h.again())
		if err != nil {
			t.Fatal(err)
		}
		if e := worst(a, s); e > 0.005 {
			t.Errorf("off by %g s", e)
		}
	}
}

// worst returns the largest error of an alignment within the overlap, s.
func worst(a Alignment, s shot) float64 {
	e := 0.0
	for _, at := range a.Overlap {
		c := a.CameraAtS(at)
		e = max(e, math.Abs(a.SessionS(c)-s.offsetS-c*(1+s.driftPPM*1e-6)))
	}
	return e
}
