package sound

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// The analytic curves against the table of IEC 61672-1:2013 (0.05 dB is its rounding) and against the
// formula's values computed elsewhere.
func TestDesignGoal(t *testing.T) {
	for _, r := range table(t, "iec61672_weighting.csv") {
		hz := number(t, r, "exact_hz")
		near(t, "A at "+r["nominal_hz"], AWeightDB(hz), number(t, r, "A_formula_db"), 1e-4)
		near(t, "C at "+r["nominal_hz"], CWeightDB(hz), number(t, r, "C_formula_db"), 1e-4)
		near(t, "A at "+r["nominal_hz"], AWeightDB(hz), number(t, r, "A_table_db"), 0.0501)
		near(t, "C at "+r["nominal_hz"], CWeightDB(hz), number(t, r, "C_table_db"), 0.0501)
	}
}

// The designed response on a fine grid, at every common sample rate.
func TestResponse(t *testing.T) {
	for _, c := range []struct{ rate, aDB, topDB float64 }{ // within, up to 0.3 and to 0.42 of the rate
		{1000, 0.03, 0.04}, {1234.5, 0.03, 0.04}, {2000, 0.02, 0.03}, {4000, 0.02, 0.02}, {7999, 0.02, 0.02},
		{8000, 0.021, 0.04}, {11025, 0.02, 0.04}, {12000, 0.02, 0.04}, {16000, 0.02, 0.04}, {22050, 0.02, 0.04}, {24000, 0.02, 0.04},
		{32000, 0.02, 0.04}, {44100, 0.02, 0.04}, {48000, 0.02, 0.04}, {51200, 0.02, 0.04}, {64000, 0.02, 0.04},
		{88200, 0.02, 0.04}, {96000, 0.02, 0.04}, {176400, 0.02, 0.04}, {192000, 0.02, 0.04},
	} {
		w, err := designWeighting(c.rate)
		if err != nil {
			t.Fatal(err)
		}
		var a, cw, topA, topC float64
		for hz := 10.0; hz <= fitTo*c.rate; hz *= 1.003 {
			da := math.Abs(10 * math.Log10(w.aResponse(hz)/aSquared(hz)))
			dc := math.Abs(10 * math.Log10(w.cResponse(hz)/cSquared(hz)))
			topA, topC = max(topA, da), max(topC, dc)
			if hz < fitCareTo*c.rate {
				a, cw = max(a, da), max(cw, dc)
			}
		}
		if a > c.aDB || topA > c.topDB || cw > 0.02 || topC > 0.04 {
			t.Errorf("%g Hz: A strays by %.3f and %.3f dB (want %g and %g), C by %.3f and %.3f dB (want 0.02 and 0.04)", c.rate, a, topA, c.aDB, c.topDB, cw, topC)
		}
	}
}

// What the meter reads of steady tones, at the frequencies of IEC 61672-1:2013, Table 3: within
// 0.05 dB of the analytic curve up to 0.42 of the rate, and within class 1 up to 0.45 of it.
func TestWeightingOfTones(t *testing.T) {
	worst := map[float64]float64{}
	for _, rate := range []float64{1000, 2000, 8000, 16000, 44100, 48000, 96000, 192000} {
		for _, r := range table(t, "iec61672_weighting.csv") {
			hz := number(t, r, "exact_hz")
			if hz > 0.45*rate {
				continue
			}
			// A second to settle, then 0.5 to 1.5 s of as whole a number of periods as frames allow.
			n, least := 50, 1.0
			for k := 50; k <= 150; k++ {
				if broken := math.Abs(math.Remainder(2*hz*float64(k)/frameHz, 1)); broken < least {
					n, least = k, broken
				}
			}
			h := hear(t, rate, sine(rate, hz, 0.5, 2.6), 0)
			h.frames = h.frames[100 : 100+n]
			l := h.levels(0)
			a, c := l.laeq-l.lzeq, l.lceq-l.lzeq
			if hz <= fitTo*rate {
				near(t, fmt.Sprintf("A at %g of %g Hz", hz, rate), a, number(t, r, "A_formula_db"), 0.05)
				near(t, fmt.Sprintf("C at %g of %g Hz", hz, rate), c, number(t, r, "C_formula_db"), 0.05)
				worst[rate] = max(worst[rate], math.Abs(a-number(t, r, "A_formula_db")), math.Abs(c-number(t, r, "C_formula_db")))
			}
			for name, d := range map[string]float64{"A": a - number(t, r, "A_table_db"), "C": c - number(t, r, "C_table_db")} {
				if plus, minus := number(t, r, "class1_plus_db"), number(t, r, "class1_minus_db"); d > plus || d < minus {
					t.Errorf("%s at %g of %g Hz is off by %.2f dB, class 1 allows %g to %g", name, hz, rate, d, minus, plus)
				}
			}
		}
	}
	t.Logf("largest deviation of A or C, dB, by sample rate: %.3f", worst)
	// Up to 0.45 of the rate, where that falls between the table's frequencies: class 1 of the
	// nearest row above (limits widen towards high frequencies).
	for _, rate := range []float64{8000, 44100, 48000} {
		w, err := designWeighting(rate)
		if err != nil {
			t.Fatal(err)
		}
		for share := 0.42; share <= 0.45; share += 0.001 {
			d := 10 * math.Log10(w.aResponse(share*rate)/aSquared(share*rate))
			if !(math.Abs(d) <= 0.7) { // the tightest limit of class 1
				t.Errorf("A at %.3f of %g Hz is off by %.2f dB", share, rate, d)
			}
		}
	}
}

// Below 8 kHz the A weighting holds up to half the rate: near it lies much of what so few samples hold.
func TestResponseAtLowRates(t *testing.T) {
	for _, rate := range []float64{1000, 1234.5, 2000, 3000, 4000, 7999} {
		w, err := designWeighting(rate)
		if err != nil {
			t.Fatal(err)
		}
		var most, top float64 // up to 0.45 of the rate, and above
		for hz := 10.0; hz <= 0.5*rate; hz *= 1.001 {
			if d := math.Abs(10 * math.Log10(w.aResponse(hz)/aSquared(hz))); hz <= 0.45*rate {
				most = max(most, d)
			} else {
				top = max(top, d)
			}
		}
		if most > 0.04 || top > 0.2 {
			t.Errorf("%g Hz: A strays by %.3f dB up to 0.45 of it and by %.3f dB above, want 0.04 and 0.2", rate, most, top)
		}
	}
}

// What the meter reads of an even noise from 20 Hz to just below half the rate, of a thousand tones whose weighted sum is
// known.
func TestNoiseAtLowRates(t *testing.T) {
	const lines, amp = 1000, 0.005 // lines a sample rate: the noise repeats itself
	for _, rate := range []float64{1000, 2000, 4000, 7000} {
		r := rand.New(rand.NewPCG(5, 6))
		period := make([]float64, lines)
		var flat, a float64
		for k := int(math.Ceil(20 * lines / rate)); k < lines/2; k++ {
			phase := 2 * math.Pi * r.Float64()
			for i := range period {
				period[i] += amp * math.Sin(2*math.Pi*float64(k*i%lines)/lines+phase)
			}
			flat, a = flat+1, a+aSquared(float64(k)*rate/lines)
		}
		var x []float64
		for len(x) < int(9*rate) {
			x = append(x, period...)
		}
		l := hear(t, rate, x, 0).levels(2)
		near(t, fmt.Sprintf("A-weighted noise of %g Hz", rate), l.laeq-l.lzeq, 10*math.Log10(a/flat), 0.02)
	}
}

func TestFactor(t *testing.T) {
	for _, b := range [][]float64{{2}, {1, 0.3}, {1, -0.9}, {0.5, 0.1, 0.02}, {1, 0.29, -0.023, 0.009}, {3, 0, 0, 0.6}} {
		c := make([]float64, len(b)) // |B|² as a sum of cosines: the autocorrelation
		for k := range b {
			for i := range len(b) - k {
				c[k] += b[i] * b[i+k]
			}
			if k > 0 {
				c[k] *= 2
			}
		}
		gain, got, err := factor(c)
		if err != nil {
			t.Errorf("%v: %v", b, err)
			continue
		}
		near(t, fmt.Sprintf("gain of %v", b), gain, b[0], 1e-9)
		for i := range got {
			near(t, fmt.Sprintf("tap %d of %v", i+1, b), got[i], b[i+1]/b[0], 1e-9)
		}
	}
	for _, c := range [][]float64{{1, 2}, {-1}, {0, 0}, {1, 0, 1}} { // negative or zero somewhere
		if g, b, err := factor(c); err == nil {
			t.Errorf("%v is no squared magnitude, got gain %g and taps %v", c, g, b)
		}
	}
}
