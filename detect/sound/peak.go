package sound

import "math"

// The largest value of a continuous signal lies between its samples. A signal without anything above
// 0.4 of the sample rate, whose largest value is P at t0, stays above P·cos(2π 0.4 fs (t - t0)) around
// it, and the sample nearest to t0 may be as low as 0.31 P. So samples are screened by a sharpening
// filter of three taps, and only around those that could hide a larger peak is the signal interpolated.
const (
	peakReach  = 8   // samples on either side that the interpolation needs
	peakPhases = 8   // positions between two samples
	peakBeta   = 4.7 // Kaiser window of 16 taps: 51 dB, 0.03 dB, for content up to 0.4 of the rate
	// sharpen makes c - sharpen·(second difference) at the sample nearest to the peak of a sine reach
	// the peak for every frequency up to 0.4 of the rate: (1/cos(0.4π) - 1)/(2 - 2cos(0.8π)) = 0.619.
	sharpen = 0.62
	// halfway is what the nearest of samples and midpoints has at least, as a share of the peak.
	halfway = 0.8
	// worth is by how much a peak must pass the largest yet to be looked at: 0.05 dB. Otherwise every
	// period of a steady tone would be interpolated. fitError is how far the sine through three points
	// half a sample apart may fall short of a peak.
	worth    = 1.006
	fitError = 1.005
)

// peakFinder keeps the C-weighted samples of two frames: a frame's peak is looked for when the next
// frame's samples are there.
type peakFinder struct {
	c        []float64 // peakReach samples of history, the frame looked at, the frame behind it
	from, to int       // the frame looked at
	end      int       // behind the last known sample
	taps     [peakPhases][2 * peakReach]float64
}

func newPeakFinder(most int) peakFinder {
	p := peakFinder{c: make([]float64, peakReach+2*most), from: peakReach, to: peakReach, end: peakReach}
	for i := range p.taps {
		sum := 0.0
		for j := range p.taps[i] {
			d := float64(i)/peakPhases - float64(j-peakReach+1)
			h := kaiser(d/peakReach, peakBeta)
			if d != 0 {
				h *= math.Sin(math.Pi*d) / (math.Pi * d)
			}
			p.taps[i][j] = h
			sum += h
		}
		for j := range p.taps[i] {
			p.taps[i][j] /= sum
		}
	}
	return p
}

// room returns where the samples of the next frame go.
func (p *peakFinder) room(n int) []float64 {
	p.end = p.to + n
	return p.c[p.to:p.end]
}

// next makes the frame behind the one looked at.
func (p *peakFinder) next() {
	n := copy(p.c, p.c[p.to-peakReach:p.end])
	p.from, p.to, p.end = peakReach, n, n
}

// find returns the largest magnitude in the frame, of which most is the largest of a sample.
func (p *peakFinder) find(most float64) float64 {
	from, to := p.from, min(p.to, p.end-1)
	if to <= from || most == 0 {
		return most
	}
	best := most
	bar := best * worth
	for n := from; ; n++ {
		if n += p.suspect(n, to, bar); n >= to {
			return best
		}
		l, y, r := p.c[n-1], p.c[n], p.c[n+1]
		v := (1+2*sharpen)*y - sharpen*(l+r)
		if v >= bar && y >= l && y >= r || v <= -bar && y <= l && y <= r {
			best = max(best, p.around(n, math.Copysign(1, v), best))
			bar = best * worth
		}
	}
}

// suspect returns how far after sample n the first pair of samples begins of which one, sharpened, reaches bar, or where
// the last few before sample to begin, which are not worth a loop of four.
func (p *peakFinder) suspect(n, to int, bar float64) int {
	c := p.c[n-1 : to+1]
	bar *= bar // rounding keeps order: a magnitude that reaches bar does so squared
	i := 0
	for ; i < len(c)-5; i += 4 {
		l, y, r, s, t, u := c[i], c[i+1], c[i+2], c[i+3], c[i+4], c[i+5]
		v := (1+2*sharpen)*y - sharpen*(l+r)
		w := (1+2*sharpen)*r - sharpen*(y+s)
		if v*v >= bar || w*w >= bar {
			return i
		}
		v = (1+2*sharpen)*s - sharpen*(r+t)
		w = (1+2*sharpen)*t - sharpen*(s+u)
		if v*v >= bar || w*w >= bar {
			return i + 2
		}
	}
	return i
}

// around returns the peak near sample n if it is worth more than best; else anything less. sign says of which kind the
// extremum at n is: 1 a maximum, -1 a minimum, which need not be the sign of the sample (just before a bang the signal
// may turn above zero, and what rises behind it is the bang's, which the next sample tells).
func (p *peakFinder) around(n int, sign, best float64) float64 {
	if n+peakReach >= p.end {
		return 0 // the end of the recording: nothing is known of what followed
	}
	l, y, r := sign*p.between(n, -peakPhases/2), sign*p.c[n], sign*p.between(n, peakPhases/2)
	m := 0
	switch {
	case l > y && l >= r:
		m, l, y, r = -peakPhases/2, sign*p.c[n-1], l, y
	case r > y:
		m, l, y, r = peakPhases/2, y, r, sign*p.c[n+1]
	}
	if y < halfway*best || hidden(l, y, r)*fitError < best*worth {
		return 0
	}
	for _, step := range [...]int{peakPhases / 4, peakPhases / 8} {
		at := m
		for _, k := range [...]int{at - step, at + step} {
			if v := sign * p.between(n, k); v > y {
				m, y = k, v
			}
		}
	}
	l, r = sign*p.between(n, m-1), sign*p.between(n, m+1)
	return max(y, hidden(l, y, r))
}

// hidden is the amplitude of the sine through three equidistant points, y the largest; where there
// is none, y.
func hidden(l, y, r float64) float64 {
	c := (l + r) / (2 * y)
	if !(c > -1 && c < 1) {
		return y
	}
	d := (r - l) / 2
	return math.Sqrt(y*y + d*d/(1-c*c))
}

// between returns the signal k eighths of a sample after sample n, k from -8 to 8.
func (p *peakFinder) between(n, k int) float64 {
	if k < 0 {
		n, k = n-1, k+peakPhases
	}
	if k == peakPhases {
		n, k = n+1, 0
	}
	if k == 0 {
		return p.c[n]
	}
	c := p.c[n-peakReach+1 : n+peakReach+1]
	var a, b float64
	h := &p.taps[k]
	c = c[:len(h)]
	for j := 0; j < len(h); j += 2 {
		a += h[j] * c[j]
		b += h[j+1] * c[j+1]
	}
	return a + b
}

// kaiser is the Kaiser window: 1 at x = 0, 0 outside -1..1.
func kaiser(x, beta float64) float64 {
	if x < -1 || x > 1 {
		return 0
	}
	return besselI0(beta*math.Sqrt(1-x*x)) / besselI0(beta)
}

// besselI0 is the modified Bessel function of order 0, by its power series.
func besselI0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= (x / (2 * k)) * (x / (2 * k))
		sum += term
	}
	return sum
}
