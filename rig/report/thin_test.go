package report

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestThin(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name  string
		at, v []float64
		wantV []float64
	}{
		{"nothing", nil, nil, nil},
		{"one", []float64{3}, []float64{7}, []float64{7}},
		{"few stay as they are", []float64{0, 1, 2}, []float64{5, 4, 6}, []float64{5, 4, 6}},
		{"extremes in their order", []float64{0, 0.002, 0.004, 0.006, 0.008}, []float64{5, 9, 2, 4, 3}, []float64{9, 2}},
		{"a gap", []float64{0, 1, 2}, []float64{5, math.Inf(1), 6}, []float64{5, nan, 6}},
		{"a gap that is joined with nothing", []float64{0, 1001.4, 1e4}, []float64{5, nan, 6}, []float64{5, nan, 6}},
		{"no time", []float64{0, nan, 2, math.Inf(1)}, []float64{5, 4, 6, 7}, []float64{5, 6}},
		{"far away", []float64{0, 1e15}, []float64{5, 6}, []float64{5, 6}},
	} {
		var th Thin
		for i := range c.at {
			th.Add(c.at[i], c.v[i])
		}
		same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
		if got := th.Series().V; !slices.EqualFunc(got, c.wantV, same) {
			t.Errorf("%s: got %v, want %v", c.name, got, c.wantV)
		}
	}
}

// Ten hours of half cycles: bounded, in order, and no extreme lost, neither of the whole nor of any minute.
func TestThinTenHours(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	const hours, stepS = 10, 1.0 / 120
	var th Thin
	lo, hi := math.Inf(1), math.Inf(-1)
	var tops []float64 // of each minute
	for i := range hours * 3600 * 120 {
		at, v := float64(i)*stepS, 4+rng.NormFloat64()
		if rng.IntN(5000) == 0 {
			v += 30
		}
		th.Add(at, v)
		lo, hi = min(lo, v), max(hi, v)
		if m := int(at / 60); m == len(tops) {
			tops = append(tops, v)
		} else {
			tops[m] = max(tops[m], v)
		}
	}
	s := th.Series()
	if n := len(s.V); n > 2*thinColumns || n < thinColumns {
		t.Errorf("%d values kept, want %d to %d", n, thinColumns, 2*thinColumns)
	}
	if cap(th.columns) > thinColumns {
		t.Errorf("memory for %d columns, want at most %d", cap(th.columns), thinColumns)
	}
	if !slices.IsSorted(s.AtS) {
		t.Error("times fall")
	}
	if got := slices.Max(s.V); got != hi {
		t.Errorf("largest %v, want %v", got, hi)
	}
	if got := slices.Min(s.V); got != lo {
		t.Errorf("least %v, want %v", got, lo)
	}
	got := make([]float64, len(tops))
	for i, at := range s.AtS {
		m := int(at / 60)
		got[m] = max(got[m], s.V[i])
	}
	lost := 0
	for m := range tops {
		if got[m] != tops[m] {
			lost++ // a column that lies in two minutes keeps only one top
		}
	}
	if lost > len(tops)/4 {
		t.Errorf("the top of %d of %d minutes is lost", lost, len(tops))
	}
}

func BenchmarkThin(b *testing.B) {
	var th Thin
	at := 0.0
	for b.Loop() {
		at += 1.0 / 120
		th.Add(at, at)
	}
}
