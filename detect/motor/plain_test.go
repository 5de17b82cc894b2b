package motor

import (
	"math"
	"slices"
	"testing"
)

// A sample close to full scale is looked at apart, and one that is no current taken as nothing: the records must not tell
// the difference, and how the samples are cut must not either.
func TestSamplesLookedAtApartCountAlike(t *testing.T) {
	x := sine(8000, 60, 0.5, 1)
	for i := range x {
		switch {
		case i >= 2000 && i < 6000: // with clipped crests
			x[i] = min(max(3*x[i], -1), 1)
		case i%1000 == 500:
			x[i] = 0
		}
	}
	records := func(clipped bool, x []float64, cut int) ([]Cycle, *Tracker) {
		tr, err := New(8000, 20, 60, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		if clipped {
			tr.WatchClipping(0.1)
		}
		var out []Cycle
		for ; len(x) > 0; x = x[min(cut, len(x)):] {
			tr.Push(x[:min(cut, len(x))])
			out = append(out, tr.Cycles()...)
		}
		return out, tr
	}
	want, _ := records(false, x, len(x))
	broken := slices.Clone(x)
	for i := 500; i < len(x); i += 1000 {
		if x[i] == 0 {
			broken[i] = math.NaN()
		}
	}
	for _, cut := range []int{1, 7, 133, len(x)} {
		got, tr := records(true, broken, cut)
		if !slices.Equal(got, want) {
			t.Errorf("cut to %d: the records differ", cut)
		}
		if tr.ClippedSamples() < 1000 || tr.LeftOut() != 4 {
			t.Errorf("cut to %d: found %d samples clipped and %d left out, want 1000 and more, and 4", cut, tr.ClippedSamples(), tr.LeftOut())
		}
	}
}
