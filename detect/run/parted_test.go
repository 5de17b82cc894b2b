package run

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// What saves time changes nothing: a remainder is what math.Remainder says, to the last bit, and two vectors are no
// further apart than the arc between them.
func TestGainedAndParted(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		was := Current{Turns: 1e4 * r.Float64(), EndS: 100 * r.Float64()}
		is := Current{Turns: was.Turns + float64(r.IntN(9))/4 + 1e-3*r.NormFloat64()*float64(r.IntN(2)), EndS: was.EndS + 0.01}
		want := math.Remainder(is.Turns-was.Turns-50*(is.EndS-was.EndS), 0.5)
		if got := is.gained(&was, 50); got != want {
			t.Fatalf("from %v to %v: gained %v turns, want %v", was.Turns, is.Turns, got, want)
		}
		a, b, turns := r.Float64(), r.Float64(), 0.5*r.Float64()-0.25
		apart := cmplx.Abs(cmplx.Rect(a, 2*math.Pi*turns) - complex(b, 0))
		for _, by := range []float64{r.Float64(), apart * (1 - 1e-12), apart * (1 + 1e-12)} {
			if got := parted(a, b, turns, by); got != (apart >= by) {
				t.Fatalf("%v and %v, %v turns apart: parted by %v is %v, they are %v apart", a, b, turns, by, got, apart)
			}
		}
	}
}
