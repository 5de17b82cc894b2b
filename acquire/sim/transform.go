package sim

import (
	"math"
	"math/bits"
)

// transform is a Fourier transform of fixed length, a power of two, in place. Forward leaves its output
// in bit-reversed order and inverse takes it so, which spares both the sorting.
type transform struct {
	n     int
	turns [][]complex128 // of each level: exp(-2πi j/size), j < size/2
}

func newTransform(n int) *transform {
	t := &transform{n: n}
	for size := n; size >= 2; size /= 2 {
		w := make([]complex128, size/2)
		for j := range w {
			s, c := math.Sincos(-2 * math.Pi * float64(j) / float64(size))
			w[j] = complex(c, s)
		}
		t.turns = append(t.turns, w)
	}
	return t
}

// order returns the frequency number that stands at place k of a transformed sequence.
func (t *transform) order(k int) int {
	return int(bits.Reverse32(uint32(k)) >> (32 - bits.Len(uint(t.n-1))))
}

func (t *transform) forward(a []complex128) {
	for level, size := 0, t.n; size >= 2; level, size = level+1, size/2 {
		w := t.turns[level]
		for from := 0; from < t.n; from += size {
			x, y := a[from:from+size/2], a[from+size/2:from+size]
			for j := range w {
				u, v := x[j], y[j]
				x[j], y[j] = u+v, (u-v)*w[j]
			}
		}
	}
}

// inverse is without the factor 1/n.
func (t *transform) inverse(a []complex128) {
	for level, size := len(t.turns)-1, 2; size <= t.n; level, size = level-1, size*2 {
		w := t.turns[level]
		for from := 0; from < t.n; from += size {
			x, y := a[from:from+size/2], a[from+size/2:from+size]
			for j := range w {
				u, v := x[j], y[j]*complex(real(w[j]), -imag(w[j]))
				x[j], y[j] = u+v, u-v
			}
		}
	}
}
