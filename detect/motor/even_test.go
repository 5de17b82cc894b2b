package motor

import (
	"math"
	"testing"
)

// TestHarmonicsOfAStart: a pure sine has no harmonics (by definition), and none are told of one whose start decays within
// the first windows. One that never stays the same is told all the same.
func TestHarmonicsOfAStart(t *testing.T) {
	const rate, hz = 4000.0, 50.0
	for _, c := range []struct {
		name      string
		amps      func(t float64) float64
		mostTHD   float64
		leastSeen int
	}{
		{"decays", func(t float64) float64 { return 1 + 15*math.Exp(-t/0.5) }, 0.5, 2},
		{"waxes and wanes", func(t float64) float64 { return 2 + math.Sin(2*math.Pi*0.7*t) }, 100, 1},
		{"always grows", func(t float64) float64 { return math.Exp(0.4 * t) }, 100, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			x := make([]float64, 15*int(rate))
			for i := range x {
				if at := float64(i)/rate - 1; at > 0 {
					x[i] = math.Sqrt2 * c.amps(at) * math.Sin(2*math.Pi*hz*at)
				}
			}
			tr, err := New(rate, 1, hz, 0.06)
			if err != nil {
				t.Fatal(err)
			}
			tr.Push(x)
			h := tr.Harmonics()
			if len(h) < c.leastSeen {
				t.Fatalf("%d spectra, want %d", len(h), c.leastSeen)
			}
			for _, s := range h {
				if thd := s.THDPercent(); thd > c.mostTHD {
					t.Errorf("%.2f %% at %.2f s, want %g at most", thd, s.EndS, c.mostTHD)
				}
			}
		})
	}
}
