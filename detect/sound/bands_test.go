package sound

import (
	"fmt"
	"math"
	"os"
	"testing"
)

func TestBandFrequencies(t *testing.T) {
	seen := 0
	for _, r := range table(t, "iec61260_bands.csv") {
		band := int(number(t, r, "x")) + band1kHz
		if r["band"] != "third-octave" || band < 0 || band >= len(NominalHz) {
			continue
		}
		seen++
		lower, upper := EdgesHz(band)
		near(t, "nominal", NominalHz[band], number(t, r, "nominal_hz"), 0)
		near(t, "exact", MidHz(band), number(t, r, "exact_mid_hz"), 1e-5)
		near(t, "lower edge", lower, number(t, r, "lower_edge_hz"), 1e-5)
		near(t, "upper edge", upper, number(t, r, "upper_edge_hz"), 1e-5)
	}
	if seen != len(NominalHz) {
		t.Errorf("%d bands found in the table, want %d", seen, len(NominalHz))
	}
}

func TestMeasurable(t *testing.T) {
	for _, c := range []struct {
		rate float64
		top  float64 // nominal frequency of the highest measurable band
	}{{1000, 400}, {8000, 3150}, {16000, 6300}, {22050, 8000}, {32000, 12500}, {44100, 16000}, {192000, 16000}} {
		m, err := New(c.rate, fs120, testSet())
		if err != nil {
			t.Fatal(err)
		}
		for i, hz := range NominalHz {
			if m.Measurable(i) != (hz <= c.top) {
				t.Errorf("%g Hz: Measurable(%g Hz) is %v", c.rate, hz, m.Measurable(i))
			}
		}
	}
}

// mask is the class 1 mask of a third-octave filter, IEC 61260-1:2014, Table 1.
type mask struct{ ratio, low, high []float64 }

func readMask(t *testing.T) mask {
	var m mask
	for _, r := range table(t, "iec61260_limits.csv") {
		ratio := number(t, r, "third_octave_ratio_high")
		switch r["exponent_x_of_G"] {
		case "just below 1/2":
			ratio *= 1 - 1e-9
		case "just above 1/2":
			ratio *= 1 + 1e-9
		}
		m.ratio = append(m.ratio, math.Log(ratio))
		m.low = append(m.low, number(t, r, "class1_min_db"))
		m.high = append(m.high, number(t, r, "class1_max_db"))
	}
	return m
}

// at returns the limits of the attenuation at a frequency ratio: linear in its logarithm between the
// breakpoints; the mask is symmetrical.
func (m mask) at(ratio float64) (low, high float64) {
	x := math.Abs(math.Log(ratio))
	last := len(m.ratio) - 1
	if x >= m.ratio[last] {
		return m.low[last], m.high[last]
	}
	i := 0
	for m.ratio[i+1] <= x {
		i++
	}
	u := (x - m.ratio[i]) / (m.ratio[i+1] - m.ratio[i])
	low = m.low[i] + u*(m.low[i+1]-m.low[i])
	if high = m.high[i]; !math.IsInf(high, 1) {
		high += u * (m.high[i+1] - m.high[i])
	}
	return low, high
}

// Class 1 at all offsets, by steady tones through the meter, twelve to a band (under QUERN_WHOLE; else six, and three at
// the highest rates, other ones at each rate) and on up to half the sample rate: every tone must lie inside the mask of
// every band.
func TestBandsAreClass1(t *testing.T) {
	m := readMask(t)
	rates := []float64{8000, 11025, 16000, 22050, 32000, 44100, 48000, 96000, 192000}
	if testing.Short() {
		rates = []float64{16000, 48000}
	}
	for k, rate := range rates {
		closest, farBand, farHz := math.Inf(1), 0.0, 0.0
		by := 2
		switch whole := os.Getenv("QUERN_WHOLE") != ""; {
		case whole && rate < 50000:
			by = 1
		case !whole && rate > 50000:
			by = 4
		}
		for step := -12*20 + k%by; ; step += by {
			hz := 1000 * math.Pow(10, float64(step)/120)
			if hz > 0.499*rate {
				break
			}
			h := hear(t, rate, tone(rate, hz, 2.2), 0)
			var kept []BandFrame
			for _, b := range h.bands {
				if b.StartS >= 0.6 && b.EndS <= 2 {
					kept = append(kept, b)
				}
			}
			h.bands = kept
			for band, l := range h.bandLevels(0) {
				if !measurable(rate, band) {
					continue
				}
				low, high := m.at(hz / MidHz(band))
				a := fs120 + 20*math.Log10(0.5) - l
				if margin := min(a-low, high-a); margin < closest {
					closest, farBand, farHz = margin, NominalHz[band], hz
				}
				if !(a >= low && a <= high) {
					t.Errorf("%g Hz: band %g Hz attenuates %.2f Hz by %.2f dB, class 1 wants %.2f to %.2f", rate, NominalHz[band], hz, a, low, high)
				}
			}
		}
		t.Logf("%g Hz: closest to the mask by %.2f dB (band %g Hz at %.2f Hz)", rate, closest, farBand, farHz)
	}
}

// tone is a sine of half of full scale, by recurrence: this file needs hours of them.
func tone(rate, hz, seconds float64) []float64 {
	x := make([]float64, int(seconds*rate))
	w := 2 * math.Pi * hz / rate
	k := 2 * math.Cos(w)
	x[0], x[1] = 0, 0.5*math.Sin(w)
	for i := 2; i < len(x); i++ {
		x[i] = k*x[i-1] - x[i-2]
	}
	return x
}

// The noise bandwidth: white noise gives every band its share of the power. 4 sigma of the estimate
// is 4·4.34 dB/sqrt(bandwidth·time).
func TestNoiseBandwidth(t *testing.T) {
	for _, rate := range []float64{8000, 44100, 48000} {
		const seconds = 60
		x := noise(int(rate*seconds), 0.1)
		h := hear(t, rate, x, 0)
		got := h.bandLevels(0)
		for band := range NominalHz {
			if !measurable(rate, band) {
				continue
			}
			lower, upper := EdgesHz(band)
			want := fs120 + 3.0103 - 20 + 10*math.Log10((upper-lower)/(rate/2))
			near(t, fmt.Sprintf("%g Hz: white noise in %g Hz", rate, NominalHz[band]), got[band], want, 0.02+4*4.34/math.Sqrt((upper-lower)*seconds))
		}
	}
}

// No energy is lost between frames or bands: tones well inside 22 Hz to 17.8 kHz, switched on and off
// anywhere, come back whole as the sum of all bands.
func TestBandsKeepEnergy(t *testing.T) {
	for _, c := range []struct{ rate, fromS, forS, hz, within float64 }{
		{48000, 0, 3, 1000, 0.02}, {48000, 0.5, 1, 440, 0.02}, {48000, 1.2345, 0.3, 5000, 0.02}, {44100, 0.77, 1.9, 160, 0.02},
		{192000, 0.3, 0.9, 2000, 0.02}, {48000, 0.4, 2.3, 60, 0.02}, {8000, 0.31, 1.2, 700, 0.02},
		// Close to the seam of two stages, whose windows are of different lengths, a tone may gain or
		// lose a little in the sum; noise does not.
		{44100, 0.77, 1.9, 120, 0.1},
	} {
		x := make([]float64, int(3.21*c.rate))
		n := int(c.forS * c.rate)
		for i, v := range sine(c.rate, c.hz, 0.4, c.forS) {
			x[int(c.fromS*c.rate)+i] = v * math.Pow(math.Sin(math.Pi*float64(i)/float64(n)), 2)
		}
		h := hear(t, c.rate, x, 0)
		bands, flat := 0.0, 0.0
		for _, b := range h.bands {
			for _, e := range b.E {
				bands += e
			}
		}
		for _, f := range h.frames {
			flat += f.EZ
		}
		near(t, fmt.Sprintf("%+v: bands against flat", c), LevelDB(bands), LevelDB(flat), c.within)
	}
}

// A burst is told in the frames in which it happened, and nowhere else.
func TestBandsKeepTime(t *testing.T) {
	x := make([]float64, 48000*6)
	copy(x[48000*3:], sine(48000, 1000, 0.4, 0.2))
	copy(x[48000*4:], sine(48000, 250, 0.4, 0.2))
	h := hear(t, 48000, x, 0)
	for _, c := range []struct {
		band  int
		fromS float64
	}{{16, 3}, {10, 4}} {
		in, all := 0.0, 0.0
		for _, b := range h.bands {
			if c.band < b.First || c.band >= b.First+len(b.E) {
				continue
			}
			e := b.E[c.band-b.First]
			all += e
			if b.EndS > c.fromS && b.StartS < c.fromS+0.2 {
				in += e
			}
		}
		if !(in > 0.995*all) {
			t.Errorf("band %g Hz: %.4f of the burst's energy lies in its time, want 0.995", NominalHz[c.band], in/all)
		}
	}
}

func TestSlopesArePowerComplementary(t *testing.T) {
	for _, n := range []int{8, 208, 232, 512} {
		up := slopeUp(n)
		for i := range up {
			near(t, fmt.Sprintf("slope of %d at %d", n, i), up[i]*up[i]+up[n-1-i]*up[n-1-i], 1, 1e-12)
		}
	}
}

func TestTransform(t *testing.T) {
	x, shape := noise(2*points, 1), windowShape(400, 300)
	var z, in [points]complex128
	for i := range in {
		in[i] = complex(shape[i]*x[i], shape[i]*x[points+i])
	}
	f := newFFT()
	f.transform(&z, shape, x[:points], x[points:])
	for _, k := range []int{0, 1, 2, 3, 5, 64, 255, 256, 511, 512, 700, 1023} {
		var sum complex128
		for i, v := range in {
			s, c := math.Sincos(-2 * math.Pi * float64(i*k%points) / points)
			sum += v * complex(c, s)
		}
		got := z[f.place[k]]
		near(t, fmt.Sprintf("real part of bin %d", k), real(got), real(sum), 1e-9)
		near(t, fmt.Sprintf("imaginary part of bin %d", k), imag(got), imag(sum), 1e-9)
	}
}
