package motor

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// rows reads a table of testdata/reference; its source stands in its first lines.
func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/reference/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(all), err)
	}
	var out []map[string]string
	for _, rec := range all[1:] {
		m := map[string]string{}
		for i, k := range all[0] {
			m[k] = rec[i]
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// wave is a textbook waveform by its Fourier series up to an order the sample rate can hold.
func wave(name string, turns float64, highest int) float64 {
	w, v := 2*math.Pi*turns, 0.0
	for k := 1; k <= highest; k++ {
		n := float64(k)
		switch name {
		case "sine":
			if k == 1 {
				v += math.Sin(w)
			}
		case "square":
			if k%2 == 1 {
				v += 4 / (math.Pi * n) * math.Sin(n*w)
			}
		case "triangle":
			if k%2 == 1 {
				v += 8 / (math.Pi * math.Pi * n * n) * math.Cos(n*w)
			}
		case "sawtooth":
			v += 2 / (math.Pi * n) * math.Sin(n*w)
		}
	}
	return v
}

// TestWaveforms holds RMS, fundamental, crest factor and THD to the closed forms of Fourier series
// (testdata/reference/waveforms.csv). The waves are band-limited to order 400, and THD here ends at
// order 25 while the table ends at 40: the difference is worked out from the series.
func TestWaveforms(t *testing.T) {
	const rate, hz, highest = 96000.0, 60.0, 400
	tested := 0
	for _, row := range rows(t, "waveforms.csv") {
		name := row["waveform"]
		if wave(name, 0.1, 3) == 0 {
			continue // the phase-cut sine has no short closed form
		}
		tested++
		x := make([]float64, int(2*rate))
		period := make([]float64, int(rate/hz))
		for i := range period {
			period[i] = wave(name, float64(i)*hz/rate, highest)
		}
		for i := range x {
			x[i] = period[i%len(period)]
		}
		tr, err := New(rate, 1, hz, 0.01)
		if err != nil {
			t.Fatal(err)
		}
		tr.Push(x)
		cs := tr.Cycles()
		c := cs[len(cs)-1]
		if want := number(t, row["rms"]); !(math.Abs(c.RMSA-want) <= 0.002*want) {
			t.Errorf("%s: rms %.5f, want %.5f", name, c.RMSA, want)
		}
		if want := number(t, row["fundamental_rms"]); !(math.Abs(c.FundA-want) <= 0.002*want) {
			t.Errorf("%s: fundamental %.5f, want %.5f", name, c.FundA, want)
		}
		if name == "sine" || name == "triangle" { // the others overshoot at their edges (Gibbs)
			if want := number(t, row["crest_factor"]); !(math.Abs(c.PeakA/c.RMSA-want) <= 0.01) {
				t.Errorf("%s: crest factor %.4f, want %.4f", name, c.PeakA/c.RMSA, want)
			}
		}
		hs := tr.Harmonics()
		if len(hs) == 0 {
			t.Fatalf("%s: no spectrum in 2 s", name)
		}
		beyond := 0.0 // orders 26 to 40
		for k := Orders + 1; k <= 40; k++ {
			beyond += math.Pow(amplitude(name, k)/amplitude(name, 1), 2)
		}
		table := number(t, row["thd_to_40_percent"])
		want := 100 * math.Sqrt(max(table*table/1e4-beyond, 0))
		if got := hs[0].THDPercent(); !(math.Abs(got-want) <= 0.15) {
			t.Errorf("%s: THD %.3f %%, want %.3f %%", name, got, want)
		}
	}
	if tested != 4 {
		t.Fatalf("%d waveforms tested, want 4", tested)
	}
}

func amplitude(name string, k int) float64 {
	n := float64(k)
	switch {
	case name == "sawtooth", name == "square" && k%2 == 1:
		return 1 / n
	case name == "triangle" && k%2 == 1:
		return 1 / (n * n)
	case k == 1:
		return 1
	}
	return 0
}

// TestStepsOfOneHalfCycle checks the half-cycle-updated RMS against the worked rows of
// testdata/reference/iec61000_4_30.csv (IEC 61000-4-30: one cycle, refreshed each half cycle).
func TestStepsOfOneHalfCycle(t *testing.T) {
	const rate, hz = 9600.0, 60.0
	step := func(a, b float64) []float64 {
		x := make([]float64, int(rate))
		for i := range x {
			rms := a
			if float64(i)/rate >= 0.5 { // a zero crossing of 60 Hz
				rms = b
			}
			x[i] = math.Sqrt2 * rms * math.Sin(2*math.Pi*hz*(float64(i)+0.5)/rate)
		}
		return x
	}
	for _, row := range rows(t, "iec61000_4_30.csv") {
		var x []float64
		switch row["quantity"] {
		case "worked: step at a zero crossing":
			x = step(1, 2)
		case "worked: inrush half-cycle":
			x = step(0, 30)
		default:
			continue
		}
		tr, err := New(rate, 1, hz, 0.01)
		if err != nil {
			t.Fatal(err)
		}
		tr.Push(x)
		want, found := number(t, row["value"]), math.Inf(1)
		for _, c := range tr.Cycles() {
			if math.Abs((c.StartS+c.EndS)/2-0.5) < 0.004 {
				found = min(found, math.Abs(c.RMSA-want))
			}
		}
		if found > 0.02*want {
			t.Errorf("%s: no window within 2 %% of %.6f A (nearest misses by %.4f)", row["quantity"], want, found)
		}
	}
}

// TestOffsetAndPhase: an offset of the clamp is taken out, and no start phase disturbs the RMS.
func TestOffsetAndPhase(t *testing.T) {
	for _, offset := range []float64{0, 2, -5} {
		x := sine(8000, 60, 4, 1)
		for i := range x {
			x[i] += offset
		}
		cs := track(t, 8000, 60, x, 100).Cycles()
		if c := cs[len(cs)-1]; !(math.Abs(c.RMSA-4) <= 0.005) || !(math.Abs(c.OffsetA-offset) <= 0.01) {
			t.Errorf("offset %g A: rms %.4f mean %.4f, want 4 and %g", offset, c.RMSA, c.OffsetA, offset)
		}
	}
}

// TestClipping counts what stands at full scale three or more in a row.
func TestClipping(t *testing.T) {
	tr, err := New(8000, 50, 60, 0.01)
	if err != nil {
		t.Fatal(err)
	}
	tr.WatchClipping(0.1)
	tr.Push([]float64{0, 1, 1, 0.2, 1, 1, 1, 0, -1, -1, -1, -1, 0.98, 1})
	if got := tr.ClippedSamples(); got != 7 {
		t.Errorf("%d clipped, want 3 + 4: two in a row may be a true peak", got)
	}
	tr.Push([]float64{0, -1.01, 0, 1, 3, 0}) // past full scale, as float recordings may be
	if got := tr.ClippedSamples(); got != 10 {
		t.Errorf("%d clipped, want 7 + 1 + 2: one past full scale is enough", got)
	}
	tr.Push([]float64{0, math.NaN(), 0, 1e20, -1e20, 1})
	if got, out := tr.ClippedSamples(), tr.LeftOut(); got != 10 || out != 3 {
		t.Errorf("%d clipped and %d left out, want 10 and 3: what is no current is no peak", got, out)
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct{ rate, hz float64 }{{390, 60}, {1e6, 60}, {8000, 40}, {8000, 70}, {math.NaN(), 60}} {
		if _, err := New(c.rate, 1, c.hz, 0.01); err == nil {
			t.Errorf("New(%g, %g): no error", c.rate, c.hz)
		}
	}
}

func BenchmarkPush(b *testing.B) {
	x := sine(8000, 60, 5, 10)
	tr, err := New(8000, 1, 60, 0.05)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		tr.Push(x)
		tr.Cycles()
		tr.Harmonics()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(x)), "ns/sample")
}
