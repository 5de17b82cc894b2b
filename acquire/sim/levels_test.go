package sim

import (
	"encoding/csv"
	"errors"
	"io"
	"math"
	"os"
	"strconv"
	"testing"
)

// table reads a check table; its own lines say the source.
func table(t *testing.T, name string) (rows []map[string]string) {
	t.Helper()
	f, err := os.Open("../../testdata/reference/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	all, err := r.ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(all), err)
	}
	for _, x := range all[1:] {
		m := map[string]string{}
		for i, v := range x {
			m[all[0][i]] = v
		}
		rows = append(rows, m)
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// IEC 61672-1:2013 Table 3 and Annex E, by testdata/reference/iec61672_weighting.csv.
func TestWeightings(t *testing.T) {
	for _, r := range table(t, "iec61672_weighting.csv") {
		f := number(t, r["exact_hz"])
		if d := 20*math.Log10(magnitude(aResponse(f))) - number(t, r["A_formula_db"]); !(math.Abs(d) <= 1e-4) {
			t.Errorf("A at %g Hz is off by %g dB", f, d)
		}
		if d := 20*math.Log10(magnitude(cResponse(f))) - number(t, r["C_formula_db"]); !(math.Abs(d) <= 1e-4) {
			t.Errorf("C at %g Hz is off by %g dB", f, d)
		}
	}
}

// A tone through the transform must come out with the table's level.
func TestWeightedTones(t *testing.T) {
	const fs = 48000
	for _, r := range table(t, "iec61672_weighting.csv") {
		f := number(t, r["exact_hz"])
		if f > 20000 {
			continue
		}
		pa := make([]float64, 3*fs)
		for i := range pa {
			pa[i] = math.Sqrt2 * math.Sin(2*math.Pi*f*float64(i)/fs)
		}
		a, c := weighted(pa, fs)
		level := func(x []float64) float64 {
			s := 0.0
			for _, v := range x[fs : 2*fs] {
				s += v * v
			}
			return 10 * math.Log10(s/fs)
		}
		// A second does not hold a whole number of cycles: 0.1 dB below 100 Hz, 0.01 dB above.
		tol := 0.01
		if f < 100 {
			tol = 0.1
		}
		if d := level(a) - number(t, r["A_formula_db"]); !(math.Abs(d) <= tol) {
			t.Errorf("A at %g Hz: off by %.4f dB", f, d)
		}
		if d := level(c) - number(t, r["C_formula_db"]); !(math.Abs(d) <= tol) {
			t.Errorf("C at %g Hz: off by %.4f dB", f, d)
		}
	}
}

// IEC 61672-1:2013 Table 5, C-weighted peak of one cycle and of half cycles above the C level of the
// steady sine, by testdata/reference/iec61672_cpeak.csv. Compared with the exact value of the table's
// last column; what is left is what 48 kHz cannot carry of a cycle's edges.
func TestPeakOfCycles(t *testing.T) {
	const fs = 48000
	for _, r := range table(t, "iec61672_cpeak.csv") {
		f, cycles, sign := number(t, r["frequency_hz"]), 0.5, 1.0
		switch r["signal"] {
		case "one cycle":
			cycles = 1
		case "positive half cycle":
		case "negative half cycle":
			sign = -1
		default:
			t.Fatalf("signal %q is not known", r["signal"])
		}
		pa := make([]float64, fs)
		for i := range pa {
			if x := float64(i-fs/4) * f / fs; x >= 0 && x < cycles {
				pa[i] = sign * math.Sin(2*math.Pi*x) * math.Sqrt2
			}
		}
		_, c := weighted(pa, fs)
		got := 20*math.Log10(peakBetween(c)) - 20*math.Log10(magnitude(cResponse(f)))
		if d := got - number(t, r["computed_db"]); !(math.Abs(d) <= 0.1) {
			t.Errorf("%s of %g Hz: off by %.3f dB", r["signal"], f, d)
		}
	}
}

func TestPeakBetweenSamples(t *testing.T) {
	const fs = 48000
	x := make([]float64, 4800)
	for i := range x { // a quarter of the rate, samples at ±45°: they read 3 dB low
		x[i] = math.Sin(2*math.Pi*12000*float64(i)/fs + math.Pi/4)
	}
	if got := peakBetween(x); !(math.Abs(got-1) <= 0.01) {
		t.Errorf("peak %.4f, want 1", got)
	}
}

// The level of each sound must be what the scenario says.
func TestLevelsAreAsOrdered(t *testing.T) {
	for _, fs := range []float64{48000, 16000} {
		sc := named(t, "no-food", 4)
		sc.Sound.RateHz, sc.LevelTruth = fs, true
		sc.Unit.WarmUpDB = 0
		b, err := New(sc)
		if err != nil {
			t.Fatal(err)
		}
		for {
			if _, err := b.Next(); errors.Is(err, io.EOF) {
				break
			}
		}
		r := b.Truth().Runs[0].Sound
		if d := r.BackgroundDB.V - sc.Sound.RoomDBA; !r.BackgroundDB.OK || !(math.Abs(d) <= 0.3) {
			t.Errorf("%g Hz: background off by %.2f dB (%v)", fs, d, r.BackgroundDB)
		}
		want := 10 * math.Log10(math.Pow(10, sc.Unit.NoLoadDBA/10)+math.Pow(10, sc.TapDBA/10))
		if d := r.LAeqDB.V - want; !(math.Abs(d) <= 0.4) {
			t.Errorf("%g Hz: empty machine off by %.2f dB", fs, d)
		}
		if !(r.LAFmaxDB.V >= r.LASmaxDB.V && r.LCpeakDB.V > r.LAFmaxDB.V) {
			t.Errorf("%g Hz: maxima out of order: %v", fs, r)
		}
	}
}
