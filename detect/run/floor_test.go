package run

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// What is selected is what stands there after sorting, whatever the order was and however many are equal.
func TestNth(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		v := make([]float64, 1+r.IntN(60))
		for i := range v {
			v[i] = float64(r.IntN(1 + r.IntN(80)))
		}
		switch r.IntN(4) {
		case 0:
			slices.Sort(v)
		case 1:
			slices.Sort(v)
			slices.Reverse(v)
		}
		sorted := slices.Sorted(slices.Values(v))
		i := r.IntN(len(v))
		if got := nth(slices.Clone(v), i); got != sorted[i] {
			t.Fatalf("nth(%v, %d) = %v, want %v", v, i, got, sorted[i])
		}
	}
}
