package sound

import (
	"math"
	"testing"
)

// A Butterworth high-pass of order 4 has |H|^2 = 1 / (1 + (fc/f)^8) (any textbook on filters); the bilinear transform
// bends the axis to tan(pi f / fs).
func TestTrebleIsButterworth(t *testing.T) {
	for _, rate := range []float64{10000, 16000, 44100, 48000, 192000} {
		for _, hz := range []float64{500, 1000, 2000, 3150, 4000, 4500} {
			m, err := New(rate, 120, testSet())
			if err != nil {
				t.Fatal(err)
			}
			m.Push(sine(rate, hz, 0.3, 1))
			m.Finish()
			var et, ec float64
			for _, f := range m.Frames()[20:] { // past the transient
				et, ec = et+f.ET, ec+f.EC
			}
			bent := math.Tan(math.Pi*TrebleHz/rate) / math.Tan(math.Pi*hz/rate)
			want := -10 * math.Log10(1+math.Pow(bent, 8))
			if got := 10 * math.Log10(et/ec); !(math.Abs(got-want) <= 0.02) {
				t.Errorf("%g Hz at %g/s: the treble is %.3f dB of the whole, expected %.3f dB", hz, rate, got, want)
			}
		}
	}
}

func TestTrebleIsAbsentWhereSamplesHaveNone(t *testing.T) {
	m, err := New(8000, 120, testSet())
	if err != nil {
		t.Fatal(err)
	}
	m.Push(sine(8000, 1000, 0.3, 1))
	m.Finish()
	for _, f := range m.Frames() {
		if m.HasTreble() || f.ET != 0 {
			t.Fatalf("found a treble of %g Pa² s at 8 kHz, expected none", f.ET)
		}
	}
}
