package align

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	frameS    = 0.01 // from one spectrum to the next
	mostBands = 16
	leastHz   = 150.0 // below it there is more mains hum and handling noise than anything in common
	steadyS   = 0.25  // changes slower than twice this are taken out: gain control, distance
	mostRise  = 1.5   // nepers of energy; a start counts for no more than any other change
)

// features tells how the energy of narrow bands rises and falls: bands[b][i] belongs to the frame that begins
// at startS + i frameS. A stationary noise rises and falls too, by chance, and does so in both recordings.
type features struct {
	startS float64
	frames int
	bands  [][]float32
}

// newFeatures makes them of a track.
func newFeatures(t *track) *features {
	hop := int(math.Round(t.rateHz * frameS))
	size := 2 * hop
	fft := fourier.NewFFT(size)
	taper := make([]float64, size)
	for i := range taper {
		taper[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(size))
	}
	edges := bandEdges(size, t.rateHz)
	f := &features{startS: t.startS, frames: max(0, len(t.samples)/hop-1), bands: make([][]float32, len(edges)-1)}
	for b := range f.bands {
		f.bands[b] = make([]float32, f.frames)
	}
	x := make([]float64, size)
	spectrum := make([]complex128, size/2+1)
	silent := make([]bool, f.frames)
	for i := range f.frames {
		var energy float64
		for k, v := range t.samples[i*hop : i*hop+size] {
			x[k] = float64(v) * taper[k]
			energy += x[k] * x[k]
		}
		if silent[i] = energy < 1e-13*float64(size); silent[i] {
			continue
		}
		fft.Coefficients(spectrum, x)
		for b := range f.bands {
			var e float64
			for _, c := range spectrum[edges[b]:edges[b+1]] {
				e += real(c)*real(c) + imag(c)*imag(c)
			}
			f.bands[b][i] = float32(math.Log(e + 1e-14*float64(size)))
		}
	}
	around := int(steadyS / frameS)
	for b := range f.bands {
		f.bands[b] = changes(f.bands[b], silent, around)
	}
	return f
}

// bandEdges returns the bins at which bands begin, and the end of the last.
func bandEdges(size int, rateHz float64) []int {
	width := rateHz / float64(size)
	lo, hi := int(math.Ceil(leastHz/width)), int(0.45*rateHz/width)
	n := min(mostBands, hi-lo)
	edges := make([]int, n+1)
	for b := range edges {
		edges[b] = lo + b*(hi-lo)/n
	}
	return edges
}

// changes takes the mean of what lies around from every value, and cuts off what sticks out. Beside silence,
// where a mean says nothing, there is no change.
func changes(x []float32, silent []bool, around int) []float32 {
	out := make([]float32, len(x))
	var sum float64
	n, gone := 0, 0
	push := func(i, by int) {
		if i >= 0 && i < len(x) {
			n += by
			if silent[i] {
				gone += by
			} else {
				sum += float64(by) * float64(x[i])
			}
		}
	}
	for i := range around {
		push(i, 1)
	}
	for i := range x {
		push(i+around, 1)
		push(i-around-1, -1)
		if gone == 0 {
			out[i] = float32(max(-mostRise, min(mostRise, float64(x[i])-sum/float64(n))))
		}
	}
	return out
}
