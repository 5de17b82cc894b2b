package run

import (
	"fmt"
	"math"

	"quern/rig"
)

const (
	dipS          = 0.1  // s a current may dip below the overload ratio without ending the overload: grinding is ragged
	begunShare    = 0.9  // locked-rotor current that has come down to this share has begun to fall
	fallingShare  = 0.96 // the same of one that is on its way there: a locked rotor's falls by less in a second, as copper heats
	earlyFromS    = 0.15 // s after a start from which its plateau is looked at: the d.c. offset is gone
	earlyToS      = 0.3
	givenUpShare  = 0.6   // share of the inrush limit after which a start that ends at its full current had failed
	fallsLeast    = 0.002 // share of that mean by which it lies below it at least: readings have steps
	fallsOverS    = 0.1   // s before a record, the mean of which it lies below while the current falls
	bumpS         = 0.25  // s for which that may be interrupted
	bumpShare     = 0.9   // of what flowed before it, that flows then at most
	onsetS        = 0.001 // s by which the instant of a start may be off
	edgeS         = 0.06  // s before a stop in which a falling current is the stop's own edge
	flatShare     = 0.03  // a current-limited stall is as flat as this; grinding is ragged
	flatLeave     = 0.8   // share of such a plateau below which the rotor turns again
	flatRatio     = 1.2   // times rated, from which such a plateau may be a stall
	hushDB        = 3.0   // and the A-level is lower than ever while the motor ran by this much: the cutters stand
	hushS         = 0.5   // s over which that level is taken
	plateauRatio  = 0.75  // times rated, from which one that is much quieter than the empty motor is one
	lowRatio      = 0.6   // the same of one that is quieter still
	seriesLocked  = 1.5   // times rated, that a series motor draws locked at least (common practice: 2 to 5)
	plateauLeastN = 4     // records that such a plateau must last
	maskedDB      = 0.7   // dB by which it must be quieter than ever where other sounds hide the motor's
	flatDev       = 0.008 // deviation of such a plateau, as a share: less than any load's
	beatShare     = 0.08  // how far readings of a constant current may lie from its mean: their windows are no whole cycles
	beatsShare    = 0.25  // and apart
	pastS         = 1.0   // s of records kept
	lockedShare   = 0.9   // of a locked rotor's current, below which it turned
	usualLocked   = 4.0   // times rated: what a locked rotor draws with no electronics before it (common practice: 4 to 7)
	wideRatio     = 3.0   // times rated: a locked-rotor current below it lies within reach of heavy grinding
)

var never = math.NaN()

// sureEnd is how sure the end of a stall or an overload is that was seen.
const sureEnd = 0.95

// grip tells, while the motor is on, whether it starts, runs, is overloaded or stands locked.
type grip struct {
	lim limits
	ear *ear

	sinceS  float64 // start of this stretch
	began   bool    // which the recording does not show
	state   rig.State
	dead    bool     // the clamp was, until this stretch began
	early   meanOver // RMS early in the start
	late    meanOver // and lately
	ownA    float64  // largest inrush of any start of this session
	inrushA float64  // largest cycle RMS of this start; from a waveform, from its second cycle on and without d.c.
	prev    Current
	lows    int // records in a row below the inrush

	highS     float64 // current stands at the locked-rotor level since; NaN: it does not
	stallS    float64
	undone    bool    // the last was none
	leaveA    float64 // below it the rotor turns again
	stoodA    float64 // where the current of the rotor that stands is
	leftS     float64 // since when it is not
	heldS     float64 // up to then it is known to have stood
	foundS    float64 // it was found to stand then
	strays    float64 // share by which its current falls over fallsOverS while it does
	overS     float64 // current is above the overload ratio since
	told      bool    // and that has been told as an overload
	over      stood   // what stands above that ratio, or last did
	wasOverS  float64 // start of the last overload
	belowS    float64 // it dipped below the leaving ratio since
	plateau   []Current
	past      []Current // the last records
	quietS    float64   // when it was last taken
	ambientDB float64   // A-level just before this stretch; NaN: not heard
	betweenDB float64   // and that between words and claps
	idleA     float64   // no-load current, as far as it is known
	shared    bool      // another appliance draws current beside the motor
	calm      calm

	events   []rig.Event
	spans    []rig.Span
	spanS    float64
	warnings []rig.Warning
}

// refA is the locked-rotor current that a stall is measured by; 0: not known.
func (g *grip) refA() float64 {
	l, own := g.lim.lockedA, g.ownA
	if own < inrushSure*g.lim.ratedA || g.lim.pulsed { // behind a rectifier it is what fills the capacitors
		own = 0
	}
	switch {
	case l > 0 && g.lim.induction && own > 0 && own < l:
		return max(own, 0.6*l) // a sagging supply gives less than the nameplate
	case l > 0:
		return l
	case !g.lim.pulsed:
		return max(own, usualLocked*g.lim.ratedA)
	}
	return own
}

func (g *grip) enter(s rig.State, atS float64) {
	if atS > g.spanS {
		g.spans = append(g.spans, rig.Span{State: g.state, FromS: rig.Fig(g.spanS), ToS: rig.Fig(atS)})
	}
	g.state, g.spanS = s, atS
}

func (g *grip) start(t turn) {
	g.enter(rig.Starting, t.atS)
	g.sinceS, g.inrushA, g.lows = t.atS, 0, 0
	g.early, g.late, g.dead = meanOver{}, meanOver{}, t.dead
	g.highS, g.overS, g.belowS, g.told = never, never, never, false
	g.plateau, g.past = g.plateau[:0], g.past[:0]
	g.ambientDB = math.NaN()
	if la, _, ok := g.ear.levels(t.atS-1, t.atS-0.05); ok {
		g.ambientDB, g.betweenDB = la, g.ear.leastDB(t.atS-1, t.atS-0.05)
	}
	if g.began = t.sure <= 0.5; g.began { // the recording began with the motor running
		g.enter(rig.NoLoad, t.atS)
	}
	g.events = append(g.events, event(rig.MotorStart, t.atS, t.withinS, t.sure, t.evidence))
}

// push takes a record that lies wholly in the time the motor is on.
func (g *grip) push(c Current) {
	switch g.state {
	case rig.Starting:
		g.starting(c)
	case rig.Stalled:
		at, free := g.freedAt(c)
		switch {
		case free:
			g.leaveStall(at, sureEnd, fmt.Sprintf("current left the %.1f A at which it had stood, and the sound was back", g.stoodA))
			g.enter(rig.NoLoad, at)
			g.running(c)
		case c.RMSA < g.leaveA:
			// It broke free when the current began to fall, not when it had fallen.
			at := min(max(g.fallsSince(), g.heldS), g.crossing(c, g.leaveA))
			g.leaveStall(at, sureEnd, fmt.Sprintf("current began to fall after %.1f s, and fell below %.1f A", at-g.stallS, g.leaveA))
			g.enter(rig.NoLoad, at)
			g.quietS = c.EndS + hushS // the sound has to come back first
			g.running(c)
		}
	default:
		g.running(c)
		if g.state == rig.Stalled && !c.Wave {
			g.heldS = c.midS() // it stood as long as the reading
		}
	}
	g.prev = c
	g.remember(c)
}

func (g *grip) starting(c Current) {
	age := c.EndS - g.sinceS
	s := (c.EndS - c.StartS) / 2
	g.inrushA = max(g.inrushA, c.SecondA)
	if !c.Torn && (!c.Wave || c.StartS >= g.sinceS+2*s-onsetS) {
		g.inrushA = max(g.inrushA, c.SwingA)
	}
	if !g.shared { // what another appliance draws is in it
		g.ownA = max(g.ownA, g.inrushA)
	}
	if age > earlyFromS && age < earlyToS && c.StartS >= g.sinceS {
		g.early.add(c.RMSA, s)
	}
	ref := g.refA()
	end := 1.5 * g.lim.ratedA
	if ref > 0 {
		end = max(end, g.lim.set.StallLeaveRatio*ref)
	}
	if c.RMSA < end {
		g.lows++
		// Electronics bring a motor up gently: its current is low before it is high.
		if g.lows >= 3 && (age > earlyToS || g.inrushA > end) || !c.Wave && (age > earlyToS || g.inrushA > end) {
			g.enter(rig.NoLoad, max(c.StartS-s, g.sinceS))
			g.running(c)
		}
		return
	}
	g.lows = 0
	if ref == 0 && g.limited(c, age, s) {
		return
	}
	if age < g.lim.set.InrushLimitS-0.2 || ref == 0 || c.RMSA < g.lim.set.StallRatio*ref {
		if age > 2*g.lim.set.InrushLimitS {
			g.enter(rig.NoLoad, c.StartS)
			g.running(c)
		}
		return
	}
	g.late.add(c.RMSA, s)
	if age < g.lim.set.InrushLimitS || !c.Wave && c.StartS < g.sinceS+g.lim.set.InrushLimitS/2+s {
		return // a reading may hold the whole inrush
	}
	fell := g.early.s > 0 && g.late.mean() < fallingShare*g.early.mean()
	if fell && age < 2*g.lim.set.InrushLimitS {
		return
	}
	g.stall(g.sinceS, g.lim.set.StallLeaveRatio*ref, fmt.Sprintf("the start drew %.1f A for %.1f s without falling: the rotor never turned", c.RMSA, age))
}

func (g *grip) leaveOverload(atS, sure float64, evidence string) {
	g.events = append(g.events, event(rig.OverloadEnd, atS, g.withinS(0.05), min(sure, g.over.sure), evidence))
	g.told = false
}

// crossing places the instant at which the current passed a level between the last two records.
func (g *grip) crossing(c Current, level float64) float64 {
	p := g.prev
	if p.EndS <= g.sinceS || p.RMSA == c.RMSA || (p.RMSA-level)*(c.RMSA-level) > 0 {
		return max(c.midS(), g.sinceS)
	}
	return p.midS() + (c.midS()-p.midS())*(level-p.RMSA)/(c.RMSA-p.RMSA)
}

func (g *grip) running(c Current) {
	d := g.lim.set
	g.listen(c)
	g.learnCalm(c)
	g.watchStall(c)
	if g.state == rig.Stalled {
		return
	}
	if math.IsNaN(g.overS) {
		if c.RMSA > d.OverloadRatio*g.lim.ratedA {
			g.overS, g.belowS = g.crossing(c, d.OverloadRatio*g.lim.ratedA), never
			g.follow(c)
		}
		return
	}
	if c.RMSA < d.OverloadLeave*g.lim.ratedA {
		if math.IsNaN(g.belowS) {
			g.belowS = g.crossing(c, d.OverloadLeave*g.lim.ratedA)
		}
		if c.EndS-g.belowS < dipS && c.Wave {
			return
		}
		if g.told {
			g.leaveOverload(g.belowS, sureEnd, fmt.Sprintf("current fell below %.1f A (%.2f x rated)", d.OverloadLeave*g.lim.ratedA, d.OverloadLeave))
			g.enter(rig.NoLoad, g.belowS)
		}
		g.wasOverS = g.overS
		g.overS, g.belowS = never, never
		return
	}
	g.belowS = never
	g.follow(c)
	if !g.told && c.EndS-g.overS >= d.OverloadHoldS && !(c.EndS-g.highS < d.StallHoldS) {
		g.told = true
		doubt := g.doubtOver(c)
		g.events = append(g.events, event(rig.OverloadStart, g.overS, g.withinS(0.05), g.over.sure,
			fmt.Sprintf("current passed %.1f A (%.2f x rated) and stayed there for %.1f s%s", d.OverloadRatio*g.lim.ratedA, d.OverloadRatio, d.OverloadHoldS, doubt)))
		g.enter(rig.Overloaded, g.overS)
	}
}
