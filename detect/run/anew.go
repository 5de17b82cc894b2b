package run

import (
	"fmt"
	"math"
	"slices"

	"quern/rig"
)

// A current that began like a motor's may still be a compressor's or a heater's: their inrush, and a tap that was opened
// just then, look alike. Then the motor's own start follows, from one cycle to the next, on top of what flows already.
// No motor that turns draws more than it did while it stood at its start, and then as much less: so a start by which
// nothing could tell the motor is held back for some seconds, and when such a leap comes the course of that is judged in
// its place, as though the motor had been off until then.

const (
	anewMostS  = 4.0  // s for which a start that may be another appliance's is held back
	beganMostS = 20.0 // the same of what flowed when the recording began
	anewLookS  = 0.4  // s before a leap in which the current it comes on top of is taken
	anewFromS  = 0.1  // s before it, from which records are judged anew
	inrushFar  = 5.0  // times what flowed before and what flows a second later, from which a leap is an inrush
	ebbDev     = 0.1  // deviation, as a share, of what may still ebb then
	anewTimes  = 1.2  // times the first inrush, that the second is
	surelyOwn  = 0.8  // of the largest inrush of this motor, from which one is it again
	ownThird   = 0.1  // third harmonic as a share of what flows, from which it is no compressor's
	ownThirdsS = 0.2  // s over which that is taken
)

// prior is what was known of the motor before a start, and how that came.
type prior struct {
	hears                    bool
	ownPeak, idle, thirdIdle float64
	idleBeside               bool
	peakA                    float64 // inrush of that start, above what flowed
	roseDB                   float64 // and by how much the sound rose with it; NaN: nothing is heard
	began                    bool    // there was none: it flowed when the recording began
}

// settle says how far back it is known that the motor is on.
func (f *flow) settle(c Current) {
	if f.held = f.held && !f.releases(c); f.held {
		return
	}
	at := c.StartS - (c.EndS - c.StartS)
	if f.jumped(c) {
		at = min(at, c.EndS-goneS-judgedS)
	}
	if !c.Wave && f.ear.any {
		at -= float64(f.ebbN(c)) * c.rowS() // by their means
	}
	if !c.Wave {
		if !f.forgets(c) {
			f.forgetS = at - forgetsOverS
		}
		at = min(at, f.forgetS) // it may have stopped where that began
	}
	if f.state == flowFalling {
		at = min(at, f.candS-(c.EndS-c.StartS))
	}
	f.decided = max(f.decided, min(at, f.settledS(c)))
}

// doubtful says whether the start at hand may be another appliance's.
func (f *flow) doubtful() bool {
	switch p := f.peak - f.base; {
	case f.ownPeak > 0 && p > surelyOwn*f.ownPeak:
		return false
	case f.cand.Wave:
		return p < max(f.inrushA(), f.lim.compressorA)
	default:
		return p < socketA
	}
}

// releases says whether what flows since a start that is held back is the motor's by now.
func (f *flow) releases(c Current) bool {
	switch {
	case f.anew != nil:
		return false
	case c.EndS > f.startS+f.prior.mostS(), f.state != flowOn:
		return true
	}
	return !f.prior.began && f.showsOwn(c)
}

// mostS is how long a start is held back at most.
func (p *prior) mostS() float64 {
	if p.began {
		return beganMostS
	}
	return anewMostS
}

// showsOwn says whether what flows on top of the base has the harmonics of the motor, once it has settled.
func (f *flow) showsOwn(c Current) bool {
	to := c.EndS - anewFromS // what it may leap by has not begun
	return to-ownThirdsS >= f.startS+courseS && f.harmonic(between(f.recent, to-ownThirdsS, to))
}

// harmonic says whether records of a waveform have the harmonics of a motor with brushes or a rectifier, above the base.
func (f *flow) harmonic(cs []Current) bool {
	if f.lim.induction || len(cs) == 0 || !cs[0].Wave {
		return false
	}
	sum := 0.0
	for i := range cs {
		sum += math.Abs(cs[i].ThirdA - f.third)
	}
	return sum > ownThird*(sideOf(cs).mean-f.base)*float64(len(cs))
}

// judgeAnew looks, while a start is held back, for the leap of the current that would be the motor's, and says whether that
// has been taken for its start.
func (f *flow) judgeAnew(c Current) bool {
	if !f.held {
		f.anew = nil
		return false
	}
	if f.anew == nil {
		if f.leaps(c) {
			f.anew = f.without(c)
		}
	} else {
		f.anew.push(c)
	}
	if f.anew == nil {
		return false
	}
	switch n := f.anew; {
	case n.state == flowRising:
	case n.state == flowOn && n.likelier(f, c):
		n.revised = &revision{fromS: n.startS - mixedS, toS: n.startS - mixedS, others: n.besides()}
		*f = *n
		return true
	case n.state == flowOn && c.EndS < n.startS+hearS:
	default:
		f.anew = nil
	}
	return false
}

// leaps says whether the current has leapt, as an inrush does, from what flowed shortly before. From what comes in a
// rectifier's pulses already its electronics bring the motor up.
func (f *flow) leaps(c Current) bool {
	if c.RMSA < 1.5*f.lim.ratedA || c.StartS < f.startS+courseS {
		return false
	}
	was := between(f.recent, c.StartS-anewLookS, c.StartS-anewFromS)
	return len(was) > 1 && c.RMSA > stepRatio*sideOf(was).mean && (f.prior.began || !f.harmonic(was))
}

// without returns what would be known if the motor had been off until just before a record.
func (f *flow) without(c Current) *flow {
	n := *f
	was := between(f.recent, c.StartS-anewLookS, c.StartS-anewFromS)
	from := slices.IndexFunc(f.recent, func(r Current) bool { return r.StartS >= was[len(was)-1].StartS })
	n.recent = slices.Clone(f.recent[:from])
	n.turns = slices.Clone(f.turns[:len(f.turns)-1])
	n.warnings, n.lost, n.switched = slices.Clone(f.warnings), slices.Clone(f.lost), slices.Clone(f.switched)
	n.guests, n.late = nil, nil
	n.drop()
	b := &f.prior
	n.hears, n.ownPeak, n.idle, n.thirdIdle, n.idleBeside = b.hears, b.ownPeak, b.idle, b.thirdIdle, b.idleBeside
	n.held, n.candS = false, f.startS
	how := "current rose to %.1f A at %.2f s as a motor's does"
	if b.began {
		how = "%.1f A flowed when the recording began, at %.2f s"
		n.warnings = slices.DeleteFunc(n.warnings, func(w rig.Warning) bool { return w.Code == rig.BeganRunning })
	}
	n.foreign(was[len(was)-1], how, fmt.Sprintf(", and at %.2f s that of the motor came on top of it: another appliance is on the conductor", c.midS()))
	for _, r := range f.recent[from:] {
		n.push(r)
	}
	return &n
}

// likelier says whether a start is the motor's rather than the one before it was.
func (n *flow) likelier(f *flow, c Current) bool {
	rest := n.lately(c) - n.base
	if c.EndS < n.startS+settledS || n.peak-n.base < inrushLeast*rest {
		return false
	}
	if f.prior.began {
		return n.cameOnTop(f, c, rest)
	}
	if n.showsOwn(c) {
		return true
	}
	rise := n.heardStart(c.EndS)
	if f.prior.roseDB >= riseDB && rise < riseDB {
		return false
	}
	return n.peak-n.base > anewTimes*f.prior.peakA
}

// cameOnTop says of a start whether it can be the motor's, on top of what had flowed since the recording began: it is heard
// to break the quiet; or, where nothing is heard, a current as flat as nothing that turns draws it flowed before, and what
// comes when the inrush is over is steady, too, and an empty motor's at least. Load comes to a motor that is heard already,
// and is ragged.
func (n *flow) cameOnTop(f *flow, c Current, rest float64) bool {
	rise := n.peak - n.base
	if n.ear.any {
		was, _, ok := n.ear.usual(n.candS-1, n.candS-0.05)
		return ok && rise >= inrushSure*n.lim.ratedA && was < n.ear.loudDB && n.heardStart(c.EndS) > atOnceDB
	}
	was, is := sideOf(between(f.recent, n.startS-1, n.startS-anewFromS)), sideOf(between(n.recent, c.EndS-soundS, c.EndS))
	if c.EndS <= n.startS+hearS-(c.EndS-c.StartS) || rest <= rampLeast*was.mean || rest <= n.idleRef()/2 {
		return false
	}
	// A leap from less than an empty motor draws, most of which goes again within a second, is an inrush: what it came on
	// top of need not be seen to be flat through the clamp's noise.
	if was.mean < n.lim.priorIdle && rise > inrushFar*max(was.mean, rest) {
		return is.dev < ebbDev*is.mean
	}
	return rise >= inrushSure*n.lim.ratedA && was.dev < deadFlat*was.mean && is.dev < beatsDev*is.mean
}
