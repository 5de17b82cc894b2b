package run

import "math"

// Readings whose windows are no whole half cycles of the mains beat with them, as evenly as a tone. No load does.

const (
	beatN     = 9   // values in a row in which a beat shows
	beatLeft  = 0.1 // share of their unrest that a beat leaves unexplained at most
	beatNoise = 3.0 // times smaller the square of what a tone leaves of noise is than that of its second difference
)

// beats says whether values in a row swing in one tone, and how far each but the first and the last lies from it, in units of a
// second difference. The sides of a tone are itself, times twice the cosine of its turn from one value to the next.
func beats(v []float64) (off []float64, ok bool) {
	is, sides, n := 0.0, 0.0, float64(len(v)-2)
	for j := 1; j < len(v)-1; j++ {
		is, sides = is+v[j]/n, sides+(v[j-1]+v[j+1])/n
	}
	both, of := 0.0, 0.0
	for j := 1; j < len(v)-1; j++ {
		both += (v[j] - is) * (v[j-1] + v[j+1] - sides)
		of += sq(v[j] - is)
	}
	if of == 0 {
		return nil, false
	}
	left, all := 0.0, 0.0
	for j := 1; j < len(v)-1; j++ {
		d := v[j-1] + v[j+1] - sides - both/of*(v[j]-is)
		left += sq(d)
		all += sq(v[j-1] + v[j+1] - 2*v[j])
		off = append(off, math.Sqrt(beatNoise)/2*math.Abs(d))
	}
	return off, beatNoise*left < beatLeft*all
}

// offBeat returns how far a block's mean lies from the beat of those about it, A. ok: they do beat.
func (l *loads) offBeat(i int) (a float64, ok bool) {
	if l.wave {
		return 0, false
	}
	var v [beatN]float64
	for from := max(i-beatN+2, 0); from < i && from+beatN <= len(l.blocks); from++ {
		for j := range v {
			v[j] = float64(l.blocks[from+j].meanA)
		}
		if off, ok := beats(v[:]); ok {
			return off[i-from-1], true
		}
	}
	return 0, false
}
