package motor

import "math"

const (
	// stepRatio of a window's RMS to that of the one before from which a current counts as switched.
	stepRatio = 1.3
	// riseShare of the peak at which a switched current is seen to flow.
	riseShare = 0.01
	// lostShare by which the oscillator must have been drawn off the frequency it had: the mains are not what they were
	// thought to be, and no window is a cycle yet.
	lostShare = 0.01
	// calmRatio of what flowed before, above which it must rise.
	calmRatio = 1.5
)

// onset looks at the first cycles of a switched current. The boundaries of half cycles do not fall on a
// switching instant, and right after one they are still being moved onto the zero crossings: so the windows of
// the tracker miss the first cycle or are no whole cycle. Here windows of exactly one cycle are renewed every
// half cycle, as in IEC 61000-4-30, and the first begins at the switching instant: that standard begins them at
// the fundamental's zero crossings, of which a current that was off has had none.
type onset struct {
	left   int     // records until it is looked at; 0: nothing was switched
	fromS  float64 // where to begin
	lastA  float64 // RMS of the record before
	before float64 // and of the one before that
}

// first returns the largest RMS over one cycle since a current was switched on, A, and that about its mean from the second
// cycle on, if c is the record at which the tracker's own windows are whole again, or the last before the switching instant
// is no longer kept: mains far from their nominal frequency are not caught up with that soon. Otherwise 0.
func (t *Tracker) first(c *Cycle) (firstA, secondA float64) {
	o := &t.onset
	switched := c.FundA > t.floorA && c.RMSA > stepRatio*o.before
	o.before, o.lastA = o.lastA, c.RMSA
	// A motor that runs up turns its current against the mains, which tears windows too, but moves no boundary.
	lost := c.Torn && math.Abs(t.hz/t.settled-1) > lostShare
	if switched || t.moving || o.left > 0 && lost {
		if o.left == 0 {
			o.fromS = c.StartS - (c.EndS - c.StartS)
		}
		o.left = 3
	}
	if o.left == 0 {
		return 0, 0
	}
	if o.left--; o.left > 0 && c.EndS-o.fromS+1/c.Hz < keptS {
		return 0, 0
	}
	o.left = 0
	return t.largest(o.fromS, c.EndS, 1/c.Hz, c.OffsetA)
}

// largest returns the largest RMS about an offset over the windows of cycleS that follow each other every half
// cycle from the instant between two others at which a current was switched on, and the largest about their means of
// those that begin a cycle after it; 0 if none was, or if that is too long ago to be kept.
func (t *Tracker) largest(fromS, toS, cycleS, offsetA float64) (firstA, secondA float64) {
	s := t.spectrum
	last := min(int64(toS*t.rateHz), s.n)
	first := int64(math.Ceil(fromS * t.rateHz))
	if first < 0 || first <= last-int64(len(s.ring)) {
		first = max(last-int64(len(s.ring))+1, 0)
	}
	n := cycleS * t.rateHz
	before, peak := 0.0, 0.0
	for i := first; i < last; i++ {
		v := math.Abs(s.sample(i) - offsetA)
		if float64(i-first) < n/2 {
			before = max(before, v)
		}
		peak = max(peak, v)
	}
	level := max(riseShare*peak, calmRatio*before)
	for i := first; i < last; i++ {
		if math.Abs(s.sample(i)-offsetA) <= level {
			continue
		}
		for k := 0; ; k++ {
			at := float64(i) + float64(k)*n/2
			if at+n > float64(last) {
				break
			}
			mean, ms := t.moments(at, at+n)
			firstA = max(firstA, math.Sqrt(max(ms-2*offsetA*mean+offsetA*offsetA, 0)))
			if k >= 2 {
				secondA = max(secondA, math.Sqrt(max(ms-mean*mean, 0)))
			}
		}
		return firstA, secondA
	}
	return 0, 0
}

// moments returns the mean and the mean square between two instants, in samples; a sample at an end counts by its part.
func (t *Tracker) moments(from, to float64) (mean, ms float64) {
	s := t.spectrum
	i, first, last := int64(math.Floor(from)), int64(math.Ceil(from)), int64(math.Floor(to))
	kept := first >= max(0, s.n-int64(len(s.ring))) && last <= s.n
	for ; float64(i) < to; i++ {
		if kept && i >= first && i < last { // whole and at hand, as nearly all
			v := s.ring[int(i)&(len(s.ring)-1)]
			mean += v
			ms += v * v
			continue
		}
		v := s.sample(i)
		w := v
		if at := float64(i); at < from || at+1 > to {
			w *= min(at+1, to) - max(at, from)
		}
		mean += w
		ms += w * v
	}
	return mean / (to - from), ms / (to - from)
}
