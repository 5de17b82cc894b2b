package run

// tick is a quarter of a half cycle: where it begins, how long it is, and the largest |i| in it.
type tick struct{ startS, lenS, peak float64 }

// ticks returns the quarters of the last records, in order of time.
func (f *flow) ticks(fromS float64) []tick {
	var out []tick
	for _, c := range f.recent {
		if c.EndS < fromS {
			continue
		}
		q := (c.EndS - c.StartS) / 8
		for i, p := range c.Quarters {
			out = append(out, tick{c.EndS - float64(4-i)*q, q, p})
		}
	}
	return out
}

// edgeA is the instantaneous current that tells on from off between two zero crossings.
func (f *flow) edgeA() float64 { return max(1.6*f.offPeak, 0.5*(f.onA()-f.base)) }

// onset places the instant at which the current of the newest record began.
func (f *flow) onset() float64 {
	c := f.cand
	if !c.Wave {
		return c.midS() // the value is a mean over the time since the reading before
	}
	edge := f.edgeA()
	if edge > 0.7*c.PeakA {
		return c.midS() // another appliance hides the edge
	}
	ticks := f.ticks(c.StartS - (c.EndS-c.StartS)/2)
	ahead := dipQuarters
	if f.lim.pulsed {
		ahead++ // there may be but one pulse in each half cycle
	}
	for i, t := range ticks {
		if t.peak <= edge {
			continue
		}
		over := 0
		for _, u := range ticks[i:min(i+1+ahead, len(ticks))] {
			if u.peak > edge {
				over++
			}
		}
		if over >= 2 || i == len(ticks)-1 {
			return t.startS
		}
	}
	return c.midS()
}

// offset places the instant at which the current ended before the newest record.
func (f *flow) offset() float64 {
	c := f.cand
	if !c.Wave && !f.step {
		return f.endWithin()
	}
	if f.step {
		return c.midS()
	}
	edge := f.edgeA()
	if 0.7*f.before(c.StartS)*1.414 < edge {
		return c.midS()
	}
	ticks := f.ticks(c.StartS - 1.5*(c.EndS-c.StartS))
	for i := len(ticks) - 1; i >= 0; i-- {
		if ticks[i].peak > edge {
			return ticks[i].startS + ticks[i].lenS
		}
	}
	return c.midS()
}

// wholeRowS is the longest reading that is taken for the mean over all the time since the one before, s: meters that send
// one less often show what the last second was, or what they read out just then.
const wholeRowS = 1.25

// endWithin places the end of a current within the newest reading and the one before it. Readings are means of the square,
// so what is left of the square in each is the share of its time in which the current flowed as before.
func (f *flow) endWithin() float64 {
	if at, ok := f.forgotFrom(); ok {
		return at
	}
	n := len(f.recent) - 1
	if n < 2 || f.cand.EndS-f.cand.StartS > wholeRowS {
		return f.cand.midS()
	}
	c, p := &f.recent[n], &f.recent[n-1]
	whole := f.recent[n-2].RMSA
	if n > 2 {
		whole = (whole + f.recent[n-3].RMSA) / 2
	}
	share := func(r *Current) float64 {
		return min(max((sq(r.RMSA)-sq(f.base))/(sq(whole)-sq(f.base)), 0), 1) * (r.EndS - r.StartS)
	}
	if whole <= f.onA() {
		return c.midS()
	}
	if last := share(c); last > 0 {
		// Rows may come unevenly: what is missing in the one before is counted back from here.
		return c.StartS - (p.EndS - p.StartS - share(p)) + last
	}
	return p.StartS + share(p)
}

// before returns the RMS of the cycles that ended just before an instant.
func (f *flow) before(atS float64) float64 {
	m, n := 0.0, 0
	for i := len(f.recent) - 1; i >= 0 && n < 4; i-- {
		if c := f.recent[i]; c.EndS <= atS+0.25*(c.EndS-c.StartS) {
			m += c.RMSA
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return m / float64(n)
}
