package sim

import (
	"math"
	"math/rand/v2"
)

// Independent random sources of one bench: each part draws from its own, so that taking a channel
// away changes nothing in the others.
const (
	partSupply uint64 = 1 + iota
	partChamber
	partSound
	partClamp
	partScale
	partScene
)

func newRand(seed, part uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, part)) }

// hiss is a fast source of white noise (splitmix64).
type hiss uint64

func (h *hiss) next() uint64 {
	*h += 0x9e3779b97f4a7c15
	z := uint64(*h)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// pair returns two independent values of mean 0 and variance 1 with a triangular density, whose
// filtered sums are as good as normal.
func (h *hiss) pair() (float64, float64) {
	const scale = 2.449489742783178 / 65536 // sqrt(6): the sum of two uniforms has variance 1/6
	z := h.next()
	a := int32(z&0xffff) + int32(z>>16&0xffff) - 65535
	b := int32(z>>32&0xffff) + int32(z>>48) - 65535
	return float64(a) * scale, float64(b) * scale
}

// normal returns one value of mean 0 and variance 1, the sum of four uniforms.
func (h *hiss) normal() float64 {
	a, b := h.pair()
	return (a + b) * math.Sqrt2 / 2
}

// biquad is a second-order filter (transposed form II).
type biquad struct{ b0, b1, b2, a1, a2, z1, z2 float64 }

func (q *biquad) step(x float64) float64 {
	y := q.b0*x + q.z1
	q.z1 = q.b1*x - q.a1*y + q.z2
	q.z2 = q.b2*x - q.a2*y
	return y
}

// power returns the squared magnitude of the filter at f Hz for the rate fs.
func (q *biquad) power(f, fs float64) float64 {
	s, c := math.Sincos(-2 * math.Pi * f / fs)
	z := complex(c, s)
	h := (complex(q.b0, 0) + z*(complex(q.b1, 0)+z*complex(q.b2, 0))) / (1 + z*(complex(q.a1, 0)+z*complex(q.a2, 0)))
	return real(h)*real(h) + imag(h)*imag(h)
}

// bandPass and highPass are the bilinear second-order sections of the textbooks; f in Hz.
func bandPass(f, q, fs float64) biquad {
	s, c := math.Sincos(2 * math.Pi * math.Min(f, 0.42*fs) / fs)
	al := s / (2 * q)
	return biquad{b0: al / (1 + al), b2: -al / (1 + al), a1: -2 * c / (1 + al), a2: (1 - al) / (1 + al)}
}

func highPass(f, q, fs float64) biquad {
	s, c := math.Sincos(2 * math.Pi * f / fs)
	al := s / (2 * q)
	return biquad{b0: (1 + c) / 2 / (1 + al), b1: -(1 + c) / (1 + al), b2: (1 + c) / 2 / (1 + al), a1: -2 * c / (1 + al), a2: (1 - al) / (1 + al)}
}

// pink is three first-order low-passes in parallel, 10 dB a decade from 20 Hz to 8 kHz within about 1 dB.
type pink struct{ a, g, z [3]float64 }

func newPink(fs float64) pink {
	var p pink
	for i, f := range [3]float64{30, 300, 3000} {
		p.a[i] = 1 - math.Exp(-2*math.Pi*f/fs)
		p.g[i] = math.Pow(10, -0.5*float64(i))
	}
	return p
}

func (p *pink) step(x float64) float64 {
	p.z[0] += p.a[0] * (x - p.z[0])
	p.z[1] += p.a[1] * (x - p.z[1])
	p.z[2] += p.a[2] * (x - p.z[2])
	return p.g[0]*p.z[0] + p.g[1]*p.z[1] + p.g[2]*p.z[2]
}

func (p *pink) power(f, fs float64) float64 {
	s, c := math.Sincos(-2 * math.Pi * f / fs)
	var h complex128
	for i := range p.a {
		h += complex(p.g[i]*p.a[i], 0) / (1 - complex(1-p.a[i], 0)*complex(c, s))
	}
	return real(h)*real(h) + imag(h)*imag(h)
}

// weightedRMS returns the A-weighted RMS of white noise of variance 1 behind a filter of the given
// power response, by quadrature over frequency.
func weightedRMS(power func(f, fs float64) float64, fs float64) float64 {
	const n = 4000
	sum := 0.0
	for i := range n {
		f := (float64(i) + 0.5) / n * fs / 2
		a := aWeight(f)
		sum += power(f, fs) * a * a
	}
	return math.Sqrt(sum / n)
}
