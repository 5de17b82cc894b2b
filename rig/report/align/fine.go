package align

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	searchS     = 0.06 // either side of where the coarse stage puts a window
	mostWindows = 300
	mostShare   = 8.0 // standard deviations that one window counts for at most, so that no single bang decides
)

// window is a short part of the camera, compared sample by sample with the session.
type window struct {
	cameraS float64   // its middle, on the camera's clock
	baseS   float64   // lag (session time less camera time) of c[0]
	c       []float32 // correlation by lag, in standard deviations
}

// matcher compares windows of one length.
type matcher struct {
	fft      *fourier.FFT
	rateHz   float64
	n        int // samples of a window
	search   int // lags either side
	lo, hi   int // bins that count
	taper    []float64
	x        []float64
	cam, ses []complex128
}

func newMatcher(rateHz, seconds float64) *matcher {
	m := &matcher{rateHz: rateHz, n: int(seconds * rateHz), search: int(searchS * rateHz)}
	size := quick(m.n + 4*m.search)
	m.fft = fourier.NewFFT(size)
	m.lo, m.hi = int(math.Ceil(leastHz*float64(size)/rateHz)), int(0.45*float64(size))
	m.taper = make([]float64, m.n)
	edge := max(1, m.n/8)
	for i := range m.taper {
		m.taper[i] = 1
		if k := min(i, m.n-1-i); k < edge {
			m.taper[i] = 0.5 - 0.5*math.Cos(math.Pi*(float64(k)+0.5)/float64(edge))
		}
	}
	m.x = make([]float64, size)
	m.cam, m.ses = make([]complex128, size/2+1), make([]complex128, size/2+1)
	return m
}

// quick returns the least even length from n on that has no prime factor above 5.
func quick(n int) int {
	for ; ; n++ {
		k := n
		for _, p := range []int{2, 3, 5} {
			for k%p == 0 {
				k /= p
			}
		}
		if k == 1 && n%2 == 0 {
			return n
		}
	}
}

// at returns sample i of a track, 0 outside.
func (t *track) at(i int) float64 {
	if i < 0 || i >= len(t.samples) {
		return 0
	}
	return float64(t.samples[i])
}

// match compares the window whose first sample of the camera is i with the session around lagS.
func (m *matcher) match(cam, ses *track, i int, lagS float64) window {
	w := window{cameraS: cam.startS + (float64(i)+float64(m.n)/2)/m.rateHz}
	clear(m.x)
	for k, a := range m.taper {
		m.x[k] = a * cam.at(i+k)
	}
	m.fft.Coefficients(m.cam, m.x)
	// The session's part is longer by the search on both sides; its first sample is at the lag -search.
	first := int(math.Round((cam.startS+lagS-ses.startS)*m.rateHz+float64(i))) - m.search
	clear(m.x)
	for k := range m.n + 2*m.search {
		m.x[k] = ses.at(first + k)
	}
	m.fft.Coefficients(m.ses, m.x)
	for k := range m.ses {
		if k < m.lo || k >= m.hi {
			m.ses[k] = 0
			continue
		}
		// Only the phase counts: a tone is one frequency of thousands, however loud.
		p := m.ses[k] * cmplx.Conj(m.cam[k])
		if a := cmplx.Abs(p); a > 0 {
			p /= complex(a, 0)
		}
		m.ses[k] = p
	}
	c := m.fft.Sequence(m.x, m.ses)[:2*m.search+1]
	w.baseS = float64(first-i)/m.rateHz + ses.startS - cam.startS
	w.c = make([]float32, len(c))
	if top, sd := tallest(c, m.lobe()); sd > 0 {
		scale := 1 / max(sd, math.Abs(c[top])/mostShare)
		for k, v := range c {
			w.c[k] = float32(v * scale)
		}
	}
	return w
}

// lobe returns how wide a peak is at most, in samples.
func (m *matcher) lobe() int { return int(lobeS * m.rateHz) }

// tallest returns the place of the largest value, whatever its sign (a camera may turn it round), and the
// standard deviation of the rest.
func tallest(c []float64, lobe int) (top int, sd float64) {
	for i := range c {
		if math.Abs(c[i]) > math.Abs(c[top]) {
			top = i
		}
	}
	var square float64
	n := 0
	for i, v := range c {
		if i < top-lobe || i > top+lobe {
			square += v * v
			n++
		}
	}
	if n == 0 {
		return top, 0
	}
	return top, math.Sqrt(square / float64(n))
}

// fine looks at windows along a guess, and lays a line through their lags.
func fine(cam, ses *track, g guess) fit {
	places, seconds := placesOf(cam, ses, g)
	m := newMatcher(cam.rateHz, seconds)
	f := fit{rateHz: cam.rateHz, lobe: m.lobe()}
	for _, i := range places {
		s := cam.startS + (float64(i)+float64(m.n)/2)/cam.rateHz
		f.windows = append(f.windows, m.match(cam, ses, i, g.at(s)))
	}
	f.stack(g)
	f.best()
	f.overlap(cam, ses)
	return f
}

// placesOf returns the first samples of the windows, which lie in the stretches that agree, inside of both
// recordings, and how long they are, s.
func placesOf(cam, ses *track, g guess) ([]int, float64) {
	inside := 0.0
	half := float64(stretch) * frameS / 2
	bounds := func(p candidate) (a, b float64) {
		lag := g.at(p.cameraS)
		a = max(p.cameraS-half, cam.startS, ses.startS-lag)
		b = min(p.cameraS+half, cam.startS+cam.seconds(), ses.startS+ses.seconds()-lag)
		return a, b
	}
	for _, p := range g.parts {
		a, b := bounds(p)
		inside += max(0, b-a)
	}
	seconds := 2.0
	switch {
	case inside < 10:
		seconds = 0.5
	case inside < 30:
		seconds = 1
	}
	stepS := max(seconds, inside/mostWindows)
	var out []int
	for _, p := range g.parts {
		a, b := bounds(p)
		for s := a; s+seconds <= b+1e-6; s += stepS {
			out = append(out, int((s-cam.startS)*cam.rateHz))
		}
	}
	return out, seconds
}
