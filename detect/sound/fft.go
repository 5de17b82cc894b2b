package sound

import (
	"math"
	"math/bits"
)

// points is the length of the Fourier transform of every stage of the filter bank.
const points = 1024

// turn holds exp(-2πi j/n), and its square and cube, for one place in a pass.
type turn struct{ w1, w2, w3 complex128 }

// fft is a radix-4 transform of fixed length, in place, whose output stays in bit-reversed order:
// the bank wants powers, and looks up where they lie. (A general library takes six times as long.)
type fft struct {
	turns [4][]turn // of the passes of length 1024, 256, 64, 16
	place [points]uint16
}

func newFFT() *fft {
	f := &fft{}
	n := points
	for i := range f.turns {
		f.turns[i] = make([]turn, n/4)
		for j := range f.turns[i] {
			at := func(m int) complex128 {
				s, c := math.Sincos(-2 * math.Pi * float64(j*m) / float64(n))
				return complex(c, s)
			}
			f.turns[i][j] = turn{at(1), at(2), at(3)}
		}
		n /= 4
	}
	for i := range f.place {
		f.place[i] = bits.Reverse16(uint16(i)) >> (16 - 10)
	}
	return f
}

// transform writes that of shape times x + i y to z: bin k lies at place[k].
func (f *fft) transform(z *[points]complex128, shape, x, y []float64) {
	shaped(z, shape, x, y, f.turns[0])
	pass(z[:], f.turns[1])
	pass(z[:], f.turns[2])
	last(z[:], (*[4]turn)(f.turns[3]))
}

// shaped does the butterflies of the whole length, of shape times x + i y.
func shaped(z *[points]complex128, shape, x, y []float64, turns []turn) {
	const q = points / 4
	turns, shape, x, y = turns[:q], shape[:points], x[:points], y[:points]
	at := func(i int) complex128 { return complex(shape[i]*x[i], shape[i]*y[i]) }
	for j := range q {
		w := &turns[j]
		a, b, c, d := at(j), at(j+q), at(j+2*q), at(j+3*q)
		e, o := a+c, a-c
		g, h := b+d, b-d
		z[j] = e + g
		z[j+q] = (e - g) * w.w2
		z[j+2*q] = complex(real(o)+imag(h), imag(o)-real(h)) * w.w1
		z[j+3*q] = complex(real(o)-imag(h), imag(o)+real(h)) * w.w3
	}
}

// pass does the butterflies of one length, 4·len(turns), in every block of x.
func pass(x []complex128, turns []turn) {
	q := len(turns)
	for len(x) >= 4*q {
		a, b, c, d := x[:q:q], x[q:2*q:2*q], x[2*q:3*q:3*q], x[3*q:4*q:4*q]
		a, b, c, d = a[:len(turns)], b[:len(turns)], c[:len(turns)], d[:len(turns)]
		for j := range turns {
			w := &turns[j]
			e, o := a[j]+c[j], a[j]-c[j]
			g, h := b[j]+d[j], b[j]-d[j]
			a[j] = e + g
			e -= g
			b[j] = e * w.w2
			// Times -i, one of them is left to subtract.
			c[j] = complex(real(o)+imag(h), imag(o)-real(h)) * w.w1
			d[j] = complex(real(o)-imag(h), imag(o)+real(h)) * w.w3
		}
		x = x[4*q:]
	}
}

// last does those of lengths 16 and 4, the latter of which have no turns.
func last(x []complex128, turns *[4]turn) {
	for ; len(x) >= 16; x = x[16:] {
		v := (*[16]complex128)(x)
		for j := range turns {
			w := &turns[j]
			e, o := v[j]+v[j+8], v[j]-v[j+8]
			g, h := v[j+4]+v[j+12], v[j+4]-v[j+12]
			v[j] = e + g
			e -= g
			v[j+4] = e * w.w2
			v[j+8] = complex(real(o)+imag(h), imag(o)-real(h)) * w.w1
			v[j+12] = complex(real(o)-imag(h), imag(o)+real(h)) * w.w3
		}
		for i := 0; i < 16; i += 4 {
			e, o := v[i]+v[i+2], v[i]-v[i+2]
			g, h := v[i+1]+v[i+3], v[i+1]-v[i+3]
			v[i], v[i+1] = e+g, e-g
			v[i+2] = complex(real(o)+imag(h), imag(o)-real(h))
			v[i+3] = complex(real(o)-imag(h), imag(o)+real(h))
		}
	}
}
