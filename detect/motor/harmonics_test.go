package motor

import (
	"math"
	"testing"
)

// Harmonics are told as far as the sample rate holds them, each with its own RMS, at any rate: between samples, too, for
// no rate is a whole number of samples a cycle of mains that drift.
func TestHarmonicsAtLowRates(t *testing.T) {
	amps := map[int]float64{1: 4, 3: 0.8, 5: 0.4, 7: 0.1, 13: 0.2}
	for _, c := range []struct {
		rate, hz float64
		highest  int
	}{{1000, 50.02, 8}, {2000, 59.97, 15}, {4000, 50.1, 25}, {8000, 60.02, 25}} {
		x := make([]float64, int(2*c.rate))
		for i := range x {
			for k, a := range amps {
				if k <= c.highest {
					x[i] += math.Sqrt2 * a * math.Sin(2*math.Pi*float64(k)*c.hz*float64(i)/c.rate+float64(k))
				}
			}
		}
		tr := track(t, c.rate, math.Round(c.hz/10)*10, x, 100)
		hs := tr.Harmonics()
		if len(hs) != 1 || len(tr.Harmonics()) > 0 {
			t.Fatalf("%g Hz: %d spectra in 2 s, want one, told once", c.rate, len(hs))
		}
		h := hs[0]
		if h.Highest != c.highest {
			t.Errorf("%g Hz: told up to order %d, want %d", c.rate, h.Highest, c.highest)
		}
		for k := 1; k <= Orders; k++ {
			want := amps[k]
			if k > c.highest {
				want = 0
			}
			if !(math.Abs(h.A[k]-want) <= 0.01*want+0.01) {
				t.Errorf("%g Hz: order %d is %.4f A, want %.4f", c.rate, k, h.A[k], want)
			}
		}
	}
}

// Samples that are missing stand for nothing but the clamp's own offset: no current, no step of the offset, and the time
// goes on.
func TestSkip(t *testing.T) {
	const rate, hz, offset = 8000.0, 50.0, 2.0
	x := sine(rate, hz, 4, 2)
	for i := range x {
		x[i] += offset
	}
	tr, err := New(rate, 1, hz, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	tr.Push(x)
	tr.Cycles()
	const missing = 10000
	tr.Skip(missing)
	var last Cycle
	for _, c := range tr.Cycles() {
		if last = c; c.StartS < 2.1 {
			continue // the gap's first windows still hold current
		}
		if !(c.RMSA <= 1e-6) || !(math.Abs(c.OffsetA-offset) <= 1e-6) || c.Locked {
			t.Fatalf("in the gap: %+v", c)
		}
	}
	if want := float64(len(x)+missing) / rate; !(math.Abs(last.EndS-want) <= 0.02) {
		t.Errorf("the gap ends at %.3f s, want %.3f", last.EndS, want)
	}
}
