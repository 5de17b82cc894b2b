package sound_test

import (
	"math"
	"testing"

	"quern/config"
	"quern/detect/sound"
)

// TestOctaves: a sine in the middle of an octave is measured whole, and what a Butterworth band-pass of third order
// leaves of it in the others: 1/(1+x^6), with x the distance from the middle in half band widths (a handbook formula).
func TestOctaves(t *testing.T) {
	const rate, amp = 48000.0, 0.1
	for k, nominal := range sound.OctaveHz {
		hz := 1000 * math.Pow(10, 0.3*float64(k-4))
		if !(math.Abs(hz/nominal-1) <= 0.02) {
			t.Errorf("octave %d is at %.1f Hz and named %g", k, hz, nominal)
		}
		m, err := sound.New(rate, 94, config.DefaultDetect().Sound)
		if err != nil {
			t.Fatal(err)
		}
		m.ListenToOctaves()
		x := make([]float64, 2*int(rate))
		for i := range x {
			x[i] = amp * math.Sin(2*math.Pi*hz*float64(i)/rate)
		}
		m.Push(x)
		m.Finish()
		var got [sound.Octaves]float64
		n := 0.0
		for _, f := range m.Frames() {
			if f.StartS < 1 {
				continue
			}
			n++
			for b, e := range f.Octave {
				got[b] += e
			}
		}
		whole := amp * amp * math.Pow(10, 9.4) * 20e-6 * 20e-6 * n / 100 // 94 dB is full scale
		for b := range got {
			mid := 1000 * math.Pow(10, 0.3*float64(b-4))
			d := (hz/mid - mid/hz) / (math.Pow(10, 0.15) - math.Pow(10, -0.15))
			want := -10 * math.Log10(1+math.Pow(d, 6))
			// The bilinear transform bends the frequencies near half the sample rate.
			within := 0.6
			if b == 7 || k == 7 {
				within = 3
			}
			if db := 10 * math.Log10(got[b]/whole); want > -50 && math.Abs(db-want) > within {
				t.Errorf("%g Hz in the octave of %g Hz: %.2f dB, want %.2f", nominal, sound.OctaveHz[b], db, want)
			}
		}
	}
}

// TestNoOctaves: they are not there unless asked for, nor above what the sample rate carries.
func TestNoOctaves(t *testing.T) {
	for _, c := range []struct {
		rate  float64
		ask   bool
		bands int
	}{{48000, false, 0}, {48000, true, 8}, {16000, true, 7}, {8000, true, 6}, {1000, true, 3}} {
		m, err := sound.New(c.rate, 94, config.DefaultDetect().Sound)
		if err != nil {
			t.Fatal(err)
		}
		if c.ask {
			m.ListenToOctaves()
		}
		x := make([]float64, int(c.rate))
		for i := range x {
			x[i] = math.Sin(float64(i*i%977)) / 10
		}
		m.Push(x)
		m.Finish()
		for _, f := range m.Frames()[50:90] {
			for b, e := range f.Octave {
				if (e > 0) != (b < c.bands) {
					t.Fatalf("rate %g: octave %d is %g, want %d octaves", c.rate, b, e, c.bands)
				}
			}
		}
	}
}
