package run

import (
	"math"
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

// Where a level meter's readings are missing nothing is known, not even silence; what came before is forgotten without moving
// what is kept.
func TestFloorsOfAMeter(t *testing.T) {
	var f floors
	for k := range 10 {
		f.push(Heard{StartS: float64(k), EndS: float64(k + 1), EA: 4e-10 * 1e6, EC: 4e-10 * 1e6, ET: math.NaN(), Missing: k == 4})
	}
	for k, v := range f.level {
		if at := (float64(k) + 0.5) * hopS; (v[4] == v[4]) != (at < 4 || at > 5) {
			t.Errorf("at %.3f s the level is %v dB(A); want it known but from 4 to 5 s", at, v[4])
		}
	}
	n, last := len(f.level), f.all()[len(f.level)-1]
	f.forget(60)
	if f.first != 60 || len(f.level) != n-60 || len(f.dead) != n-60 || len(f.all()) != n-60 || f.all()[n-61][4] != last[4] {
		t.Errorf("after 60 of %d hops were forgotten: the first is %d, %d levels, %d floors", n, f.first, len(f.level), len(f.all()))
	}
}
