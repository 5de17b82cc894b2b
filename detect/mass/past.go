package mass

import (
	"math"

	"quern/rig"
)

const (
	pastS = 10.0  // s that are kept: over so much a slope is fitted
	spotS = 0.019 // s: readings closer than this share a spot, so that memory has a bound at any rate
	spots = 528   // pastS / spotS, and two
)

// spot is one reading, or a few that came within spotS.
type spot struct {
	atS        float64
	lo, hi     float64
	sum, count float64
}

// past keeps about the last ten seconds of indications.
type past struct {
	ring  [spots]spot
	next  int
	count int
}

// back returns the i-th spot from the newest, which is number 0.
func (p *past) back(i int) *spot { return &p.ring[(p.next-1-i+2*spots)%spots] }

func (p *past) push(atS, v float64) {
	if p.count > 0 {
		if s := p.back(0); atS-s.atS < spotS {
			s.lo, s.hi = min(s.lo, v), max(s.hi, v)
			s.sum, s.count = s.sum+v, s.count+1
			return
		}
	}
	p.ring[p.next] = spot{atS: atS, lo: v, hi: v, sum: v, count: 1}
	p.next = (p.next + 1) % spots
	p.count = min(p.count+1, spots)
}

// stretch is the longest time up to now in which the indications stayed within one division.
type stretch struct {
	fromS  float64
	lo, hi float64
	spots  int
}

// stretch finds the longest one that ends with the newest spot.
func (p *past) stretch(divisionG float64) stretch {
	s := *p.back(0)
	x := stretch{fromS: s.atS, lo: s.lo, hi: s.hi, spots: 1}
	for i := 1; i < p.count; i++ {
		s := p.back(i)
		lo, hi := min(x.lo, s.lo), max(x.hi, s.hi)
		if !still(hi-lo, divisionG) {
			break
		}
		x.fromS, x.lo, x.hi, x.spots = s.atS, lo, hi, x.spots+1
	}
	return x
}

// lastFar is the last instant in the past at which the indication was more than farG from v; not OK
// if it never was.
func (p *past) lastFar(v, farG float64) (atS float64, ok bool) {
	for i := range p.count {
		if s := p.back(i); math.Max(s.hi-v, v-s.lo) > farG {
			return s.atS, true
		}
	}
	return 0, false
}

// slope fits a straight line through the indications of the last ten seconds that came after afterS,
// by least squares, and returns its slope in g/min and over how long it was fitted, s. With less than
// a second or three spots it is absent: "slope-too-short".
func (p *past) slope(afterS float64) (gPerMin rig.Figure, overS float64) {
	var n, st, sv, stt, stv float64
	if p.count == 0 {
		return rig.Absent("slope-too-short"), 0
	}
	newest := *p.back(0)
	for i := range p.count {
		s := p.back(i)
		if s.atS <= afterS || s.atS < newest.atS-pastS {
			break
		}
		t, v := s.atS-newest.atS, s.sum/s.count-newest.lo
		n, st, sv, stt, stv, overS = n+1, st+t, sv+v, stt+t*t, stv+t*v, -t
	}
	if n < 3 || overS < restS*0.999 {
		return rig.Absent("slope-too-short"), overS
	}
	return rig.Fig(60 * (n*stv - st*sv) / (n*stt - st*st)), overS
}
