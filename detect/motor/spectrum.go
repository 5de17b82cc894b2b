package motor

import (
	"math"
	"math/cmplx"

	"github.com/mjibson/go-dsp/fft"
)

// Orders is the highest harmonic that is told.
const Orders = 25

const (
	// windowS is the basic interval of IEC 61000-4-7: 10 cycles at 50 Hz, 12 at 60 Hz.
	windowS = 0.2
	// keptS is how far back samples are kept at least.
	keptS = 1.5 * windowS
	// everyS is the pause between two spectra: harmonics change slowly.
	everyS = 10.0
	// evenShare is the share by which the fundamental may change within a window, unless it does for unevenS, s.
	evenShare = 0.05
	unevenS   = 5.0
	// points a window is resampled to, so that the window holds whole cycles and the FFT is quick.
	points = 4096
	// taps each side of the interpolation.
	taps = 12
)

// Harmonics is one spectrum of the current: RMS of each harmonic subgroup (IEC 61000-4-7, 5.5.1).
type Harmonics struct {
	StartS, EndS float64
	A            [Orders + 1]float64 // index is the order; 0 is unused
	Highest      int                 // orders above it lie beyond what the sample rate can hold
}

// spectrum keeps the last windows of samples and turns one into harmonics every now and then.
type spectrum struct {
	rateHz float64
	cosK   [2*taps + 1]float64 // of the window of the interpolation at tap k - taps
	sinK   [2*taps + 1]float64
	ring   []float64
	n      int64
	nextS  float64
	steady int         // records in a row at which the fundamental was followed
	fundA  [32]float64 // and what it was at the last of them
	late   int         // records since the next one was due
	out    []Harmonics
}

func newSpectrum(rateHz float64) *spectrum {
	size := 1
	for float64(size) < rateHz*keptS+4*taps {
		size *= 2 // a power of two: the place of a sample is a mask away
	}
	s := &spectrum{rateHz: rateHz, ring: make([]float64, size)}
	for i := range s.cosK {
		s.sinK[i], s.cosK[i] = math.Sincos(math.Pi * float64(i-taps) / (taps + 1))
	}
	return s
}

func (s *spectrum) push(v float64) {
	s.ring[int(s.n)&(len(s.ring)-1)] = v
	s.n++
}

// mark takes a spectrum of the window that ends at c, if one is due.
func (s *spectrum) mark(c Cycle) {
	if !c.Locked {
		s.steady, s.late = 0, 0
		return
	}
	s.steady++
	cycles := math.Round(c.Hz * windowS)
	was := s.fundA[(s.steady-2*int(cycles)+len(s.fundA))&(len(s.fundA)-1)]
	s.fundA[s.steady&(len(s.fundA)-1)] = c.FundA
	if c.EndS < s.nextS || float64(s.steady) < 3*cycles {
		return
	}
	if s.late++; math.Abs(c.FundA-was) > evenShare*c.FundA && float64(s.late) < 2*c.Hz*unevenS {
		return // what grows or decays within a window shows in lines that are no harmonics
	}
	s.late = 0
	s.nextS = c.EndS + everyS
	lengthS := cycles / c.Hz
	// The last taps are still to come: look back far enough to have them.
	endS := c.EndS - (taps+1)/s.rateHz
	lines := fft.FFTReal(s.resampled(endS-lengthS, lengthS))
	h := Harmonics{StartS: endS - lengthS, EndS: endS, Highest: Orders}
	for k := 1; k <= Orders; k++ {
		if float64(k)*c.Hz > 0.45*s.rateHz {
			h.Highest = k - 1
			break
		}
		line := k * int(cycles)
		ms := 0.0
		for _, j := range []int{line - 1, line, line + 1} {
			a := cmplx.Abs(lines[j]) * math.Sqrt2 / points
			ms += a * a
		}
		h.A[k] = math.Sqrt(ms)
	}
	s.out = append(s.out, h)
}

// resampled returns the points of a window.
func (s *spectrum) resampled(fromS, lengthS float64) []float64 {
	first := int64(math.Floor(fromS*s.rateHz)) - taps
	near := make([]float64, int(lengthS*s.rateHz)+2*taps+3)
	for i := range near {
		near[i] = s.sample(first + int64(i))
	}
	x := make([]float64, points)
	for i := range x {
		x[i] = s.at((fromS+lengthS*float64(i)/points)*s.rateHz, near, first)
	}
	return x
}

// at interpolates the samples at position p by a Hann-windowed sinc. Those near it, taps to each side, are given, and which
// the first of them is.
func (s *spectrum) at(p float64, near []float64, first int64) float64 {
	whole := math.Floor(p)
	frac := p - whole
	i := int(int64(whole) - first)
	if frac == 0 {
		return near[i]
	}
	sum, sin := 0.0, math.Sin(math.Pi*frac)/math.Pi
	sinF, cosF := math.Sincos(math.Pi * frac / (taps + 1))
	v := (*[2 * taps]float64)(near[i+1-taps:])
	for n := 1; n <= 2*taps; n++ {
		sin = -sin                                     // that of frac - k
		w := 0.5 + 0.5*(cosF*s.cosK[n]+sinF*s.sinK[n]) // Hann, at frac - k
		sum += v[n-1] * w / (frac - float64(n-taps)) * sin
	}
	return sum
}

func (s *spectrum) sample(i int64) float64 {
	if i < 0 || i >= s.n || i < s.n-int64(len(s.ring)) {
		return 0
	}
	return s.ring[int(i)&(len(s.ring)-1)]
}

// Harmonics returns the spectra taken since the last call.
func (t *Tracker) Harmonics() []Harmonics {
	out := t.spectrum.out
	t.spectrum.out = nil
	return out
}

// THDPercent returns the harmonics 2 to 25 over the fundamental, in per cent.
func (h Harmonics) THDPercent() float64 {
	ms := 0.0
	for _, a := range h.A[2:] {
		ms += a * a
	}
	return 100 * math.Sqrt(ms) / h.A[1]
}
