package sound

import "math"

// stage measures the bands of one level of the pyramid.
type stage struct {
	rate  float64   // samples a second
	slope int       // length of the window's slopes, samples
	hop   int       // from one window to the next; the window has hop+slope samples
	span  int       // from one transform to the next: two hops, for two windows are transformed at once
	shape []float64 // the window, and nothing up to the length of a transform
	buf   []float64 // slope samples from before, then span new ones
	fill  int
	// frames counts the windows done. The first begins slope samples before the recording, where there
	// is nothing.
	frames int
	low    int // first band
	bands  []binned
	dec    *eighth
	next   *stage
	got    int // samples received, as a lower stage
	limit  int // how many there will be, once known; else -1
}

// binned is a band as weights of transform bins from lo on.
type binned struct {
	lo     int
	weight []float64
}

// exposures returns those of the two windows that were transformed together as a + i b, from the
// bins k and -k: with Z = A + i B, |A|² = |Z_k + conj Z_-k|²/4 and |B|² = |Z_k - conj Z_-k|²/4.
func (b *binned) exposures(z *[points]complex128, place *[points]uint16) (first, second float64) {
	var sum, product float64
	for i, w := range b.weight {
		k := b.lo + i
		u, v := z[place[k&(points-1)]&(points-1)], z[place[(points-k)&(points-1)]&(points-1)]
		sum += w * (real(u)*real(u) + imag(u)*imag(u) + real(v)*real(v) + imag(v)*imag(v))
		product += w * (real(u)*real(v) - imag(u)*imag(v))
	}
	// Of two sums of squares that cancel, rounding may leave less than nothing.
	return max(0, sum/2+product), max(0, sum/2-product)
}

func newStage(rate float64, last bool) *stage {
	s := &stage{rate: rate, slope: slopeFlat, hop: points - slopeFlat, limit: -1}
	if last {
		// As short as the lowest band allows: its frames are the longest.
		half := int(math.Ceil(binsRound*rate/MidHz(0)/2/8)) * 8
		s.slope = min(half, points/2)
		s.hop = s.slope
	}
	s.span = 2 * s.hop
	s.shape = windowShape(s.hop, s.slope)
	// The second window's transform may reach beyond what the window covers.
	s.buf = make([]float64, max(s.slope+s.span, s.hop+points))[:s.slope+s.span]
	s.fill = s.slope
	return s
}

// slopeAlpha is the shape of the Kaiser window behind the slopes: far side lobes under 70 dB.
const slopeAlpha = 4.0

// windowShape is a window of hop+slope samples, of which slope are its rising and its falling half each, and nothing behind
// it up to the length of a transform.
func windowShape(hop, slope int) []float64 {
	w := make([]float64, points)
	for i := range w[:hop+slope] {
		w[i] = 1
	}
	for i, u := range slopeUp(slope) {
		w[i] = u
		w[hop+slope-1-i] = u
	}
	return w
}

// slopeUp is the rising half of a Kaiser-Bessel-derived window: its square and that of its mirror
// image add up to 1.
func slopeUp(n int) []float64 {
	up := make([]float64, n)
	sum := 0.0
	for i := range up {
		sum += kaiser(2*float64(i)/float64(n)-1, math.Pi*slopeAlpha)
		up[i] = sum
	}
	sum += kaiser(1, math.Pi*slopeAlpha)
	for i := range up {
		up[i] = math.Sqrt(up[i] / sum)
	}
	return up
}

// weigh sets the stage's bands low..top-1; droop is the squared magnitude that the decimation has
// left, which the weights make good.
func (s *stage) weigh(low, top int, pa float64, droop func(hz float64) float64) {
	s.low = low
	width := s.rate / points
	for band := low; band < top; band++ {
		lower, upper := EdgesHz(band)
		b := binned{lo: int(math.Round(lower / width))}
		for k := b.lo; float64(k)-0.5 < upper/width && k < points/2; k++ {
			part := min(float64(k)+0.5, upper/width) - max(float64(k)-0.5, lower/width)
			// Parseval: the sum of squares is the sum of powers over points; then Pa² and seconds.
			b.weight = append(b.weight, part/droop(float64(k)*width)/points*pa*pa/s.rate)
		}
		s.bands = append(s.bands, b)
	}
}
