package run

import "math"

// Many meters average: what they show of a motor that has stopped dies away, by the same share in the same time. What
// another appliance draws stays, and what a motor draws comes and goes at once.

const (
	forgetsS     = 1.2  // s in which the slowest meter's reading falls to 1/e
	forgetsOverS = 0.4  // s over which that shows
	forgetsN     = 3    // readings that show a meter to forget
	unsureMost   = 0.25 // share of a reading, that its digits and what it strays by may make of it
	strayDevs    = 2.0  // deviations of what is shown of no current
	alikeNats    = 0.25 // by which the square of a reading may be off that
)

// forgets says whether a reading is on its way down as fast as a meter that forgets.
func (f *flow) forgets(c Current) bool {
	if c.Wave || len(f.recent) < 2 {
		return false
	}
	i := len(f.recent) - 2
	for i > 0 && f.recent[i].EndS > c.EndS-forgetsOverS {
		i--
	}
	p := &f.recent[i]
	return c.RMSA < p.RMSA*math.Exp((p.EndS-c.EndS)/forgetsS)
}

// forgotFrom returns when the current ended whose end an averaging meter has been forgetting up to the newest reading: back
// along the way down to where the meter showed less than that would have been.
func (f *flow) forgotFrom() (atS float64, ok bool) {
	type shown struct{ atS, lastS, a float64 }
	var all []shown
	digit := math.Inf(1)
	for i := range f.recent {
		c := &f.recent[i]
		n := len(all)
		if n > 0 && all[n-1].a == c.RMSA { // a display that repeats itself
			all[n-1].lastS = c.EndS
			continue
		}
		if n > 0 {
			digit = min(digit, math.Abs(all[n-1].a-c.RMSA))
		}
		all = append(all, shown{c.EndS, c.EndS, c.RMSA})
	}
	var way line
	for i := len(all) - 1; i >= 0; i-- {
		s, a := sq(all[i].a)-sq(f.base), all[i]
		unsure := (digit + strayDevs*math.Sqrt(f.spread)) / a.a
		switch {
		case s <= 0:
			return 0, false // it went at once
		case way.n == 0 && unsure > unsureMost:
			continue
		}
		y := math.Log(s)
		stays := a.lastS > a.atS+repeatsS
		if stays && way.n < forgetsN-1 {
			return 0, false // and went at once
		}
		if way.n >= forgetsN-1 {
			slope := way.slope()
			begun := way.x0 + way.sx/way.n + (y-way.y0-way.sy/way.n)/slope
			may := alikeNats + 2*unsure
			switch over := slope * (begun - a.atS); { // what the meter would have shown
			case over > may:
				return 0, false
			case over < -may, a.a <= all[i+1].a: // on its way down it shows ever less
				if stays {
					begun = max(begun, a.lastS)
				}
				return min(max(begun, a.atS), all[i+1].atS), way.n >= forgetsN && slope < -2/forgetsS
			}
		}
		way.add(a.atS, y)
	}
	return 0, false
}
