package align

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	stretch     = 2048 // frames of the camera that are looked for at once
	coarseFFT   = 8192
	perStretch  = 6   // places of a stretch that are looked at
	leastCoarse = 4.8 // standard deviations a place must stand out by
	apartFrames = 20  // two places of a stretch are at least so far from each other
)

// candidate is a place where a stretch of the camera may lie.
type candidate struct {
	cameraS float64 // middle of the stretch, on the camera's clock
	lagS    float64 // session time less camera time
	z       float64 // by how many standard deviations it stands out
}

// coarse looks for stretches of the camera in all of the session: every fourth at first, and the others if
// those do not agree on one place.
func coarse(cam, ses *features) []candidate {
	if cam.frames == 0 || ses.frames == 0 || len(cam.bands) != len(ses.bands) {
		return nil
	}
	s := newSeeker(cam, ses)
	var out []candidate
	for _, first := range []int{0, 2, 1, 3} {
		out = append(out, s.seek(first, rounds)...)
		if lines := linesOf(out); plain(lines) {
			break
		}
	}
	return out
}

const (
	rounds     = 4
	plainParts = 6   // stretches that agree, from which no more are needed
	plainTimes = 8.0 // and by how much they outweigh any other line
)

// plain tells whether one line leaves no doubt about where to look.
func plain(lines []guess) bool {
	return len(lines) > 0 && len(lines[0].parts) >= plainParts && (len(lines) == 1 || lines[0].weight > plainTimes*lines[1].weight)
}

// seeker looks for stretches of one recording in another.
type seeker struct {
	cam, ses *features
	fft      *fourier.FFT
	length   int // frames of a stretch
}

func newSeeker(cam, ses *features) *seeker {
	return &seeker{cam, ses, fourier.NewFFT(coarseFFT), min(stretch, cam.frames)}
}

// seek looks for every so many-th stretch, from the first one on.
func (s *seeker) seek(first, every int) []candidate {
	var at []int // first frames of the stretches
	for k := first; k*s.length < s.cam.frames; k += every {
		at = append(at, k*s.length)
	}
	parts := make([][][]complex128, len(at))
	sums := make([][]float64, len(at)) // correlation by lag, of each stretch
	for k := range at {
		parts[k] = spectrum(s.fft, s.cam, at[k], s.length)
		sums[k] = make([]float64, 0, s.ses.frames+s.length)
	}
	// A block of the session tells about the lags at which the stretch lies wholly inside it.
	step := coarseFFT - s.length + 1
	before := -(s.length - 1) // frame of the session at the first lag
	product := make([]complex128, coarseFFT/2+1)
	x := make([]float64, coarseFFT)
	for from := before; from < s.ses.frames && len(at) > 0; from += step {
		block := spectrum(s.fft, s.ses, from, coarseFFT)
		n := min(step, s.ses.frames-from)
		for k, part := range parts {
			multiply(product, block, part)
			s.fft.Sequence(x, product)
			sums[k] = append(sums[k], x[:n]...)
		}
	}
	var out []candidate
	for k, c := range sums {
		begin := s.cam.startS + float64(at[k])*frameS
		for _, p := range peaks(c) {
			lag := s.ses.startS + (float64(before)+p.at)*frameS - begin
			out = append(out, candidate{begin + float64(s.length)/2*frameS, lag, p.z})
		}
	}
	return out
}

// multiply sums up the cross-spectra of all bands.
func multiply(product []complex128, block, part [][]complex128) {
	clear(product)
	for b := range block {
		s, c := block[b][:len(product)], part[b][:len(product)]
		for i := range product {
			sr, si, cr, ci := real(s[i]), imag(s[i]), real(c[i]), imag(c[i])
			product[i] += complex(sr*cr+si*ci, si*cr-sr*ci)
		}
	}
}

// spectrum returns those of all bands over the frames from on; before the first and after the last there is
// nothing.
func spectrum(fft *fourier.FFT, f *features, from, length int) [][]complex128 {
	out := make([][]complex128, len(f.bands))
	x := make([]float64, fft.Len())
	for b, band := range f.bands {
		clear(x)
		for i := max(0, -from); i < length && from+i < len(band); i++ {
			x[i] = float64(band[from+i])
		}
		out[b] = fft.Coefficients(nil, x)
	}
	return out
}

type peak struct{ at, z float64 }

// peaks returns the places at which a correlation stands out from what it is elsewhere, the highest first.
func peaks(c []float64) []peak {
	var square float64
	for _, v := range c {
		square += v * v
	}
	sd := math.Sqrt(square / float64(len(c)))
	if !(sd > 0) {
		return nil
	}
	// The peaks themselves are not part of the rest.
	var rest float64
	n := 0
	for _, v := range c {
		if math.Abs(v) < 4*sd {
			rest += v * v
			n++
		}
	}
	sd = math.Sqrt(rest / float64(n))
	if !(sd > 0) {
		return nil
	}
	var all []peak
	for i := 1; i+1 < len(c); i++ {
		if v := c[i]; v > leastCoarse*sd && v >= c[i-1] && v > c[i+1] {
			bend := c[i-1] - 2*v + c[i+1]
			all = append(all, peak{float64(i) + 0.5*(c[i-1]-c[i+1])/bend, v / sd})
		}
	}
	slices.SortFunc(all, func(a, b peak) int { return cmp.Compare(b.z, a.z) })
	var out []peak
	for _, p := range all {
		if len(out) < perStretch && !slices.ContainsFunc(out, func(o peak) bool { return math.Abs(o.at-p.at) < apartFrames }) {
			out = append(out, p)
		}
	}
	return out
}

// guess is a line that stretches agree on: the lag at an instant of the camera's clock, and the drift.
type guess struct {
	midS, lagS float64
	drift      float64
	weight     float64
	parts      []candidate
}

// at returns the lag at an instant of the camera's clock.
func (g guess) at(cameraS float64) float64 { return g.lagS + g.drift*(cameraS-g.midS) }

const mostLines = 4

// linesOf gathers candidates into lines that drift no more than clocks do, the weightiest first.
func linesOf(all []candidate) []guess {
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b candidate) int { return cmp.Compare(b.z, a.z) })
	var out []guess
	taken := make([]bool, len(all))
	for i, c := range all {
		if taken[i] || len(out) == 3*mostLines {
			continue
		}
		var g guess
		for j, o := range all {
			off := math.Abs(o.lagS - c.lagS)
			if !taken[j] && off <= 2*frameS+MostDriftPPM*1e-6*math.Abs(o.cameraS-c.cameraS) {
				taken[j] = true
				g.parts = append(g.parts, o)
			}
		}
		out = append(out, straighten(c, g.parts))
	}
	slices.SortFunc(out, func(a, b guess) int { return cmp.Compare(b.weight, a.weight) })
	return out[:min(len(out), mostLines)]
}

// straighten lays the line through the strongest candidate that most of the others lie on.
func straighten(c candidate, parts []candidate) guess {
	best := guess{midS: c.cameraS, lagS: c.lagS}
	slopes := []float64{0}
	for _, p := range parts {
		if d := p.cameraS - c.cameraS; d != 0 {
			slopes = append(slopes, (p.lagS-c.lagS)/d)
		}
	}
	for _, slope := range slopes {
		if math.Abs(slope) > MostDriftPPM*1e-6 {
			continue
		}
		g := guess{midS: c.cameraS, lagS: c.lagS, drift: slope}
		for _, p := range parts {
			if math.Abs(p.lagS-g.at(p.cameraS)) < 1.5*frameS {
				g.weight += p.z * p.z
				g.parts = append(g.parts, p)
			}
		}
		if g.weight > best.weight {
			best = g
		}
	}
	return best
}
