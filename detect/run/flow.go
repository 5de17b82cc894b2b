package run

import (
	"fmt"
	"math"

	"quern/rig"
)

const (
	warmS       = 0.5  // s of current looked at before anything is said
	warmHearS   = 2.0  // s of sound, if current flows from the first record on
	keepS       = 4.0  // s of records kept for looking back
	riseDB      = 2.5  // a motor that starts lifts the sound by at least this (A or C)
	fallDB      = 3.0  // a motor that stops lowers it by at least this
	hearS       = 1.0  // s the sound may take to rise after a start
	coastS      = 2.5  // s the sound may take to fall after a stop: the turntable coasts
	deadShare   = 0.5  // a clamp with less than this share of its own learned noise is dead
	inrushSure  = 2.2  // times rated: a step this high is a motor's inrush, whatever is heard
	leastShare  = 0.35 // an induction motor draws at least this share of rated (no-load: 50-85 %)
	sagHoldS    = 0.3  // s that a current must stay low that is not gone: a sagging supply comes back
	ownShare    = 0.6  // of the largest inrush seen, from which a step is an inrush again
	humMoreDB   = 3.0  // dB more that the C-level must rise than the A-level: a compressor hums too
	jogS        = 3.0  // s after a stop within which a short current is the switch being jogged
	pulseCrest  = 1.65 // peak over RMS from which a current comes in pulses; a sine has 1.41
	soundS      = 0.3  // s of sound needed after a current has gone, to say whether it went too
	stepRatio   = 1.8  // times the current before it: a second step while the first is still being judged
	settledS    = 0.5  // s after which a start without an inrush shows its steady current
	droppedS    = 0.1  // s after which a lower current of the idle clamp is its new floor
	dipQuarters = 3    // quarters looked ahead when a switching instant is placed
)

// turn is a change of the motor between on and off, seen in the current.
type turn struct {
	on       bool
	atS      float64
	withinS  float64
	sure     float64
	evidence string
}

type flowState int

const (
	flowWarm flowState = iota
	flowOff
	flowRising
	flowOn
	flowFalling
	flowLost
)

// flow tells whether motor current flows. Its thresholds hang on the noise it learns while there is
// none, on the no-load current it learns while there is, and on the nameplate until then.
type flow struct {
	lim limits
	ear *ear

	state     flowState
	recent    []Current
	base      float64 // RMS while off: noise, hum, other appliances
	spread    float64 // mean square deviation of it
	offPeak   float64 // largest |i| while off, slowly forgotten
	hears     bool    // the microphone has heard this motor start
	ownPeak   float64 // largest step of a start of this session
	stopS     float64 // of the last stop; far in the past: none yet
	startS    float64 // of the stretch at hand
	asked     bool    // whether that start was heard has been settled
	dropped   float64 // time the idle clamp has been far below base
	noise     float64 // learned noise floor; 0: none learned
	learnS    float64 // time it was learned over
	idle      float64 // least half-second mean while running; 0: none yet
	block     meanOver
	ambientDB float64 // A-level before the start at hand
	runDB     float64 // lowest A-level of half a second while running; 0: none yet
	candS     float64 // where the pending change began
	cand      Current
	step      bool // the pending stop is a step down onto another appliance's current
	peak      float64
	after     meanOver
	hush      meanOver // noise since the current went away
	slow      float64  // mean RMS about 0.2 s ago
	lostLA    float64

	turns    []turn
	lost     []Interval // clamp gone while the sound went on, or its source gone
	lostS    float64
	lostA    float64 // current before it
	missing  bool    // the source itself is gone
	missS    float64 // end of what is known to be missing
	back     meanOver
	warnings []rig.Warning
	decided  float64
}

// meanOver is a running mean over time.
type meanOver struct{ sum, s, fromS float64 }

func (m *meanOver) add(v, s float64) { m.sum += v * s; m.s += s }
func (m *meanOver) mean() float64 {
	if m.s == 0 {
		return 0
	}
	return m.sum / m.s
}

func (f *flow) idleRef() float64 {
	if f.idle > 0 {
		return f.idle
	}
	return f.lim.priorIdle
}

// onA is the RMS above which current flows.
func (f *flow) onA() float64 {
	d := f.lim.set
	return f.base + max(d.OnNoiseRatio*math.Sqrt(f.spread), d.OnRatedRatio*f.lim.ratedA, d.OffIdleShare*f.idleRef())
}

// offA is the RMS below which it does not: half way down again, but for an induction motor, which
// cannot draw less than its no-load current, somewhat below that.
func (f *flow) offA() float64 {
	a := f.base + (f.onA()-f.base)/2
	if f.lim.induction {
		a = max(a, 0.4*f.idleRef())
	}
	return a
}

func (f *flow) push(c Current) {
	if c.Missing {
		f.miss(c)
		return
	}
	f.recent = append(f.recent, c)
	if n := len(f.recent); n > 64 && c.EndS-f.recent[n/2].EndS > keepS {
		f.recent = append(f.recent[:0], f.recent[n/2:]...)
	}
	f.next(c)
}

func (f *flow) next(c Current) {
	switch f.state {
	case flowWarm:
		f.warm(c)
	case flowOff:
		f.off(c)
	case flowRising:
		f.rising(c)
	case flowOn:
		f.running(c)
	case flowFalling:
		f.falling(c)
	case flowLost:
		f.gone(c)
	}
}

// warm looks at the first records and decides from what state the recording begins.
func (f *flow) warm(c Current) {
	if c.EndS < warmS || len(f.recent) < 3 {
		return
	}
	// Current from the first record on: the sound tells whose it is, and may need a moment to.
	if c.EndS < warmHearS && f.lowest().RMSA > f.wholeShare()*f.lim.priorIdle && f.ear.any && !f.likeOurs() && f.ear.steadyDB(c.EndS) <= f.ear.loudDB {
		return
	}
	f.begin()
}

// likeOurs says whether the current that flowed from the first record on is what this induction motor
// draws: most of its rated current, and not much more. A refrigerator draws less, a kettle more.
func (f *flow) likeOurs() bool {
	a := f.lowest().RMSA
	return f.lim.induction && a > 0.45*f.lim.ratedA && a < 1.3*f.lim.ratedA
}

// lowest is the smallest of the records kept.
func (f *flow) lowest() Current {
	low := f.recent[0]
	for _, r := range f.recent {
		if r.RMSA < low.RMSA {
			low = r
		}
	}
	return low
}

// wholeShare is the share of the least no-load current from which a steady current may be the motor's.
func (f *flow) wholeShare() float64 {
	if f.lim.induction {
		return 0.6
	}
	return 0.5
}

func (f *flow) begin() {
	seen := append([]Current(nil), f.recent...)
	if len(seen) == 0 {
		return
	}
	low, share := f.lowest(), f.wholeShare()
	loud := !f.ear.any || f.likeOurs() || f.ear.steadyDB(seen[len(seen)-1].EndS) > f.ear.loudDB
	f.state = flowOff
	if low.RMSA > share*f.lim.priorIdle && loud {
		f.state = flowOn
		f.turns = append(f.turns, turn{on: true, atS: seen[0].StartS, withinS: seen[0].EndS - seen[0].StartS, sure: 0.5,
			evidence: fmt.Sprintf("%.1f A flowed when the recording began", low.RMSA)})
		f.warn("began-running", "the motor was already running when the recording began: start, inrush and background are not known")
		f.slow = low.RMSA
	} else {
		f.base, f.offPeak = low.RMSA, low.PeakA
		if low.RMSA > share*f.lim.priorIdle {
			f.warn("other-appliance", fmt.Sprintf("%.1f A flowed when the recording began, without a motor's sound: another appliance is on the conductor", low.RMSA))
		}
	}
	f.recent = f.recent[:0]
	for _, r := range seen {
		f.recent = append(f.recent, r)
		f.next(r)
	}
}

func (f *flow) off(c Current) {
	if c.RMSA > f.onA() {
		f.state, f.cand, f.peak = flowRising, c, 0
		f.candS = f.onset()
		f.after = meanOver{}
		f.rising(c)
		return
	}
	f.learn(c)
	f.decided = c.StartS - (c.EndS - c.StartS)
}

// learn takes a record of the idle clamp.
func (f *flow) learn(c Current) {
	s := (c.EndS - c.StartS) / 2
	if !c.Wave {
		s *= 2
	}
	if c.RMSA < 0.5*f.base && f.base > 0.02*f.lim.ratedA {
		// Another appliance went off.
		if f.dropped += s; f.dropped > droppedS {
			f.base, f.spread, f.offPeak, f.dropped = c.RMSA, sq(0.1*c.RMSA), c.PeakA, 0
		}
		return
	}
	f.dropped = 0
	f.learnS += s
	g := s / (s + min(f.learnS, 2))
	d := c.RMSA - f.base
	f.base += g * d
	f.spread += g * (d*d - f.spread)
	f.offPeak = max(c.PeakA, f.offPeak*(1-0.3*s))
	// Noise is taken about the window's own mean: an offset that jumps is none.
	if f.base < 0.3*f.lim.priorIdle && (f.noise == 0 || c.SwingA > deadShare*f.noise) {
		f.noise += g * (c.SwingA - f.noise)
	}
}

func (f *flow) rising(c Current) {
	f.peak = max(f.peak, c.RMSA)
	lasted := c.EndS - f.candS
	held := lasted >= f.lim.set.OnHoldS || !c.Wave
	if c.RMSA <= f.onA() {
		if held && (f.peak > f.lim.ratedA || f.louder(c.EndS) >= fallDB || f.candS-f.stopS < jogS) {
			f.start(c)
			f.fall(c, false)
			return
		}
		f.state = flowOff
		f.learn(c)
		return
	}
	if f.after.s > 0.05 && c.RMSA > stepRatio*f.after.mean() && c.RMSA > 1.5*f.lim.ratedA {
		// A motor's inrush on top of something that was not told yet.
		f.appliance(c)
		f.off(c)
		return
	}
	if lasted > 0.2 {
		f.after.add(c.RMSA, (c.EndS-c.StartS)/2)
	}
	if !held {
		return
	}
	rise := f.heardStart(c.EndS)
	// However loud it got: an induction motor starts with an inrush, and draws its no-load current then.
	small := f.lim.induction && f.peak < 1.5*f.lim.ratedA && (lasted < settledS && c.Wave || min(f.after.mean(), c.RMSA)-f.base < leastShare*f.lim.ratedA)
	pulses := f.lim.pulsed && c.Wave && lasted > settledS && c.RMSA > leastShare*f.lim.ratedA && c.PeakA > pulseCrest*c.RMSA
	switch {
	case math.IsNaN(rise), f.peak > f.inrushA(), !small && rise >= riseDB, pulses:
		f.start(c)
	case lasted < hearS:
	default:
		before, _, _ := f.ear.levels(f.candS-1, f.candS-0.05)
		least := 0.5 * f.lim.priorIdle
		if f.lim.induction {
			least = leastShare * f.lim.ratedA
		}
		now, _, _ := f.ear.levels(c.EndS-0.3, c.EndS)
		just, _, _ := f.ear.levels(f.candS-0.1, f.candS)
		coasting := f.candS-f.stopS < coastS && now > just-1 // it would have grown quieter by now
		if (coasting || before > f.ear.loudDB && !f.hears) && f.after.mean()-f.base > least {
			f.start(c)
			return
		}
		f.appliance(c)
	}
}

// appliance takes the current that rose at the pending instant for another appliance's.
func (f *flow) appliance(c Current) {
	m := f.after.mean()
	f.warn("other-appliance", fmt.Sprintf("current rose to %.1f A at %.2f s and no motor was heard: another appliance is on the conductor; it is left in the current figures", m, f.candS))
	f.base, f.spread = m, sq(0.02*m)
	f.offPeak = 1.5 * m
	f.state = flowOff
}

func sq(v float64) float64 { return v * v }

// inrushA is the current from which a step is a motor's inrush, whatever is heard; once this motor has
// shown its own, a good part of that.
func (f *flow) inrushA() float64 {
	a := inrushSure * f.lim.ratedA
	if own := ownShare * f.ownPeak; own > 1.2*f.lim.ratedA {
		a = min(a, own)
	}
	return a
}

// heardStart returns by how much the sound has risen since the pending start, dB: the least rise of its
// last three tenths of a second, for a motor's sound stays where a word or a clap does not. NaN if
// nothing was heard at all, -Inf while there is too little to tell.
func (f *flow) heardStart(nowS float64) float64 {
	a0, c0, ok := f.ear.levels(f.candS-1, f.candS-0.05)
	if !f.ear.any || !ok {
		return math.NaN()
	}
	least, more := math.Inf(1), humMoreDB
	if f.peak > 1.5*f.lim.ratedA {
		more = 0
	}
	for k := range 3 {
		to := nowS - 0.1*float64(k)
		if to-0.1 < f.candS {
			return math.Inf(-1)
		}
		a1, c1, ok := f.ear.levels(to-0.1, to)
		if !ok {
			return math.NaN()
		}
		least = min(least, max(a1-a0, c1-c0-more))
	}
	return least
}

// louder returns by how much the sound since the pending start is above that before it, dB; for a start
// that was over before more could be heard. NaN if nothing was heard.
func (f *flow) louder(nowS float64) float64 {
	d, ok := f.ear.quieter(Interval{f.candS + 0.02, nowS}, Interval{f.candS - 1, f.candS - 0.05})
	if !ok {
		return math.NaN()
	}
	return d
}

func (f *flow) start(c Current) {
	within := (c.EndS - c.StartS) / 4
	how := "within a quarter of a half cycle"
	if !c.Wave {
		within = f.cand.EndS - f.cand.StartS
		how = "between two readings"
	}
	sure := 1.0
	if r := f.heardStart(c.EndS); r < riseDB {
		sure = 0.8
	}
	f.turns = append(f.turns, turn{on: true, atS: f.candS, withinS: within, sure: sure,
		evidence: fmt.Sprintf("current rose from %.2f A to %.1f A %s", f.base, f.peak, how)})
	f.startS, f.asked = f.candS, false
	f.ownPeak = max(f.ownPeak, f.peak)
	f.ambientDB, _, _ = f.ear.levels(f.candS-1, f.candS-0.05)
	f.state, f.block, f.slow = flowOn, meanOver{fromS: f.candS + 1}, f.peak
	f.decided = f.candS
}

func (f *flow) running(c Current) {
	if !f.asked && c.EndS > f.startS+hearS {
		f.asked = true
		f.candS = f.startS
		f.hears = f.hears || f.heardStart(c.EndS) >= riseDB
	}
	if c.RMSA < f.offA() {
		f.fall(c, false)
		return
	}
	if f.ear.any && c.Wave && c.EndS > f.startS+hearS && c.RMSA < f.slow-0.5*f.idleRef() && c.RMSA > f.offA() {
		f.fall(c, true)
		return
	}
	s := (c.EndS - c.StartS) / 2
	f.slow += min(s/0.1, 1) * (c.RMSA - f.slow)
	if c.StartS > f.block.fromS {
		f.block.add(c.RMSA, s)
		if f.block.s > 0.5 {
			if m := f.block.mean(); m < 1.1*f.lim.ratedA && (f.idle == 0 || m < f.idle) {
				f.idle = m
			}
			if la, _, ok := f.ear.levels(f.block.fromS, c.EndS); ok && (f.runDB == 0 || la < f.runDB) {
				f.runDB = la
			}
			f.block = meanOver{fromS: c.EndS}
		}
	}
	f.decided = c.StartS - (c.EndS - c.StartS)
}

// finish closes what is pending when the recording ends at endS.
func (f *flow) finish(endS float64) {
	if f.state == flowWarm {
		f.begin()
	}
	switch f.state {
	case flowRising:
		if r := f.louder(endS); endS-f.candS >= f.lim.set.OnHoldS && (math.IsNaN(r) || r >= fallDB || f.peak > f.lim.ratedA) {
			f.start(f.cand)
		}
	case flowFalling:
		if !f.step {
			f.stop(0.8, " at the very end of the recording")
		}
	case flowLost:
		f.lost = append(f.lost, Interval{f.lostS, endS})
	}
	switch f.state {
	case flowOn, flowFalling, flowLost:
		f.turns = append(f.turns, turn{on: false, atS: endS, withinS: 0, sure: 0.3, evidence: "the recording ended while the motor ran"})
		f.warn("ended-running", "the recording ended while the motor was running: the stop is the recording's end")
		f.state = flowOff
	}
	f.decided = endS
}

func (f *flow) warn(code, text string) {
	f.warnings = append(f.warnings, rig.Warning{Code: code, Text: text})
}
