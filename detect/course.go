package detect

import (
	"fmt"
	"math"

	"quern/detect/run"
	"quern/rig"
)

// gapLeastS is the least jump in time that counts as samples gone, s; a smaller one is the time base
// being corrected for the drift of the stream's own clock.
const gapLeastS = 0.01

// course places what was made from one sampled stream on the session's time base. The meters count
// samples; where samples are missing they are given as many of nothing, and a correction of the time
// base moves what comes after it. In a stream that was never corrected nothing moves at all.
type course struct {
	rateHz  float64
	n       int64   // samples given to the meter, missing ones too
	offS    float64 // session time less meter time, for what comes next
	moves   []move  // corrections that something may still have to be placed by
	gaps    []run.Interval
	lately  []run.Interval // gaps, in the meter's time, that something may still lie in
	missing bool           // the last block said that nothing came
}

type move struct{ fromS, offS float64 } // from this meter time on

func (c *course) nextS() float64 { return c.offS + float64(c.n)/c.rateHz }

// reach takes the beginning of the next block and returns how many samples are missing before it. A
// block without samples says that nothing came up to there.
func (c *course) reach(startS float64, empty bool) (missing int) {
	jump := startS - c.nextS()
	switch {
	case empty:
		if jump > 0 {
			missing = int(math.Floor(jump * c.rateHz))
			c.missing = true
		}
	case c.missing || jump >= gapLeastS:
		missing = max(int(math.Round(jump*c.rateHz)), 0)
	}
	if missing > 0 {
		from, to := float64(c.n)/c.rateHz, float64(c.n+int64(missing))/c.rateHz
		if k := len(c.lately) - 1; k >= 0 && c.lately[k].ToS == from {
			c.lately[k].ToS = to
			c.gaps[len(c.gaps)-1].ToS += to - from
		} else {
			c.lately = append(c.lately, run.Interval{FromS: from, ToS: to})
			c.gaps = append(c.gaps, run.Interval{FromS: c.offS + from, ToS: c.offS + to})
		}
		c.n += int64(missing)
	}
	if empty {
		return missing
	}
	c.missing = false
	if d := startS - c.nextS(); math.Abs(d) > 1e-7 {
		c.offS += d
		c.moves = append(c.moves, move{float64(c.n) / c.rateHz, c.offS})
	}
	return missing
}

// place returns the session time of an instant of the meter.
func (c *course) place(atS float64) float64 {
	off := 0.0
	for _, m := range c.moves {
		if m.fromS > atS {
			break
		}
		off = m.offS
	}
	return atS + off
}

// within says whether a stretch of the meter's time touches a gap, or what still rings of one, for s.
func (c *course) within(fromS, toS, ringS float64) bool {
	for _, g := range c.lately {
		if fromS < g.ToS+ringS && toS > g.FromS {
			return true
		}
	}
	return false
}

// forget drops what lies well before an instant of the meter.
func (c *course) forget(beforeS float64) {
	for len(c.moves) > 1 && c.moves[1].fromS < beforeS {
		c.moves = c.moves[1:]
	}
	for len(c.lately) > 0 && c.lately[0].ToS < beforeS {
		c.lately = c.lately[1:]
	}
}

// mostGaps of a channel are told one by one.
const mostGaps = 20

// tellGaps warns of what is missing of a channel.
func (a *Analysis) tellGaps(channel string, gaps []run.Interval) {
	total := 0.0
	for i, g := range gaps {
		total += g.Lasts()
		if i < mostGaps {
			a.warn(channel+"-gap", fmt.Sprintf("nothing came from the %s from %.3f to %.3f s (%.3f s)", channel, g.FromS, g.ToS, g.Lasts()))
		}
	}
	if n := len(gaps) - mostGaps; n > 0 {
		a.warn(channel+"-gap", fmt.Sprintf("and %s more: %.3f s of the %s are missing in all", rig.Count(n, "time"), total, channel))
	}
}

// silence tells when readings are missing: their source gives them at its own pace.
type silence struct {
	rows   bool    // a few missing among many at an even step are told too
	lastS  float64 // of the last reading
	stepS  float64 // usual time between two
	n      int
	even   int     // steps in a row that were the usual one, as far as rounding lets see
	toldS  float64 // up to here the present silence has been told of
	gaps   []run.Interval
	silent bool
}

// leastSilenceS is the least time without a reading that counts as a gap, whatever the pace, s. Instruments that are
// read live stutter: what was late comes in a burst.
const leastSilenceS = 2.5

// A table's rows stand at one step, and three steps without a row are rows that are missing. Times within evenShare
// of the step, or evenS, are the table's writing; those of arrival scatter more, so that a live instrument keeps the
// wide limit. Where it does not, what was late in a stutter rarely comes a whole number of steps late; hence the
// limit of restartS for what is off the step.
const (
	evenShare  = 0.02
	evenS      = 0.001 // s
	evenSteps  = 10
	holeSteps  = 3
	leastHoleS = 0.25 // s
	restartS   = 1.0  // s
)

func (q *silence) limitS() float64 { return max(leastSilenceS, 10*q.stepS) }

// hole tells whether rows of a table are missing before a reading.
func (q *silence) hole(atS float64) bool {
	d := atS - q.lastS
	slackS := q.slackS()
	if !q.rows || q.even < evenSteps || d < holeSteps*q.stepS-slackS || d < leastHoleS {
		return false
	}
	off := math.Abs(d - math.Round(d/q.stepS)*q.stepS)
	return off <= 2*slackS || d >= restartS
}

func (q *silence) slackS() float64 { return max(evenShare*q.stepS, evenS) }

// until says that nothing came up to an instant, and returns the stretch that is newly known to be a gap.
func (q *silence) until(atS float64) (run.Interval, bool) {
	if q.n < 2 || atS-q.lastS <= q.limitS() {
		return run.Interval{}, false
	}
	return q.gone(atS)
}

func (q *silence) gone(atS float64) (run.Interval, bool) {
	from := max(q.lastS, q.toldS)
	if atS <= from {
		return run.Interval{}, false
	}
	q.silent, q.toldS = true, atS
	return run.Interval{FromS: from, ToS: atS}, true
}

// reading takes the time of the next reading.
func (q *silence) reading(atS float64) (run.Interval, bool) {
	gap, ok := q.until(atS - q.stepS)
	if !ok && !q.silent && q.hole(atS) {
		gap, ok = q.gone(atS - q.stepS)
		q.even = evenSteps - 2 // two steps of another length, and it is the pace that has changed
	}
	if q.silent {
		q.gaps = append(q.gaps, run.Interval{FromS: q.lastS, ToS: atS})
	} else if q.n > 0 {
		d := atS - q.lastS
		if q.n == 1 || math.Abs(d-q.stepS) <= q.slackS() {
			q.even++
		} else {
			q.even = 0
		}
		q.stepS += (d - q.stepS) / float64(min(q.n, 20))
	}
	q.n++
	q.lastS, q.silent = atS, false
	return gap, ok
}

// end takes the end of the session.
func (q *silence) end(atS float64) {
	if q.n >= 2 && atS-q.lastS > q.limitS() {
		q.gaps = append(q.gaps, run.Interval{FromS: q.lastS, ToS: atS})
	}
}
