package run

import (
	"fmt"
	"math"

	"quern/rig"
)

const (
	dipS         = 0.1  // s a current may dip below the overload ratio without ending the overload: grinding is ragged
	begunShare   = 0.9  // locked-rotor current that has come down to this share has begun to fall
	earlyFromS   = 0.15 // s after a start from which its plateau is looked at: the d.c. offset is gone
	earlyToS     = 0.3
	givenUpShare = 0.6  // share of the inrush limit after which a start that ends at its full current had failed
	freedShare   = 0.93 // share of the locked rotor's current below which it has broken free
	flatGain     = 0.05 // of following it, per record
	tornRatio    = 1.15
	edgeS        = 0.06 // s before a stop in which a falling current is the stop's own edge
	flatShare    = 0.03 // a current-limited stall is as flat as this; grinding is ragged
	flatLeave    = 0.8  // share of such a plateau below which the rotor turns again
	flatRatio    = 1.2  // times rated, from which such a plateau may be a stall
	hushDB       = 3.0  // and the A-level is lower than ever while the motor ran by this much: the cutters stand
	hushS        = 0.5  // s over which that level is taken
	wideRatio    = 3.0  // times rated: a locked-rotor current below it lies within reach of heavy grinding
)

var never = math.NaN()

// grip tells, while the motor is on, whether it starts, runs, is overloaded or stands locked.
type grip struct {
	lim limits
	ear *ear

	sinceS  float64 // start of this stretch
	state   rig.State
	early   meanOver // RMS early in the start
	late    meanOver // and lately
	ownA    float64  // largest inrush of any start of this session
	inrushA float64  // largest cycle RMS of this start
	wholeA  float64  // the same of windows that are whole cycles
	tornA   float64  // and of those that are not
	prev    Current
	lows    int // records in a row below the inrush

	highS    float64 // current stands at the locked-rotor level since; NaN: it does not
	stallS   float64
	leaveA   float64 // below it the rotor turns again
	flatA    float64 // current of the locked rotor, slowly followed: copper heats
	flatS    float64 // when the current last stood there
	overS    float64 // current is above the overload ratio since
	told     bool    // and that has been told as an overload
	wasOverS float64 // start of the last overload
	belowS   float64 // it dipped below the leaving ratio since
	plateau  []Current
	quietDB  float64 // lowest A-level of hushS while the motor ran; +Inf: none yet
	quietS   float64 // when it was last taken

	events   []rig.Event
	spans    []rig.Span
	spanS    float64
	warnings []rig.Warning
}

// refA is the locked-rotor current that a stall is measured by; 0: not known.
func (g *grip) refA() float64 {
	l, own := g.lim.lockedA, g.ownA
	if own < inrushSure*g.lim.ratedA {
		own = 0
	}
	switch {
	case l > 0 && g.lim.induction && own > 0 && own < l:
		return max(own, 0.6*l) // a sagging supply gives less than the nameplate
	case l > 0:
		return l
	case own > 0:
		return own
	case g.lim.induction:
		return 4 * g.lim.ratedA // common practice: 4 to 7
	}
	return 0
}

func (g *grip) enter(s rig.State, atS float64) {
	if g.state == s {
		return
	}
	if atS > g.spanS {
		g.spans = append(g.spans, rig.Span{State: g.state, FromS: rig.Fig(g.spanS), ToS: rig.Fig(atS)})
	}
	g.state, g.spanS = s, atS
}

func (g *grip) start(t turn) {
	g.enter(rig.Starting, t.atS)
	g.sinceS, g.inrushA, g.wholeA, g.tornA, g.lows = t.atS, 0, 0, 0, 0
	g.early, g.late = meanOver{}, meanOver{}
	g.highS, g.overS, g.belowS, g.told = never, never, never, false
	g.plateau = g.plateau[:0]
	if t.sure <= 0.5 { // the recording began with the motor running
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
		if c.RMSA >= freedShare*g.flatA {
			g.flatS = c.midS()
			g.flatA += flatGain * (c.RMSA - g.flatA)
		}
		if c.RMSA < g.leaveA {
			// It broke free when the current began to fall, not when it had fallen.
			at := min(max(g.flatS, g.stallS), g.crossing(c, g.leaveA))
			g.leaveStall(at, fmt.Sprintf("current fell below %.1f A after %.1f s", g.leaveA, at-g.stallS))
			g.enter(rig.NoLoad, at)
			g.quietS = c.EndS + hushS // the sound has to come back first
			g.running(c)
		}
	default:
		g.running(c)
	}
	g.prev = c
}

func (g *grip) starting(c Current) {
	age := c.EndS - g.sinceS
	s := (c.EndS - c.StartS) / 2
	if c.Torn {
		g.tornA = max(g.tornA, c.SwingA)
	} else {
		g.wholeA = max(g.wholeA, c.SwingA)
	}
	// A window that is not a whole cycle is a few per cent off; but where the inrush is over within it,
	// it is all there is.
	if g.inrushA = g.wholeA; g.tornA > tornRatio*g.wholeA {
		g.inrushA = g.tornA
	}
	g.ownA = max(g.ownA, g.wholeA)
	if age > earlyFromS && age < earlyToS {
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
		if g.lows >= 3 && (age > earlyToS || g.wholeA > end) || !c.Wave {
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
	if age < g.lim.set.InrushLimitS {
		return
	}
	fell := g.early.s > 0 && g.late.mean() < begunShare*g.early.mean()
	if fell && age < 2*g.lim.set.InrushLimitS {
		return
	}
	g.stall(g.sinceS, g.lim.set.StallLeaveRatio*ref, fmt.Sprintf("the start drew %.1f A for %.1f s without falling: the rotor never turned", c.RMSA, age))
}

func (g *grip) leaveOverload(atS float64, evidence string) {
	g.events = append(g.events, event(rig.OverloadEnd, atS, 0.05, 0.95, evidence))
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
	g.watchStall(c)
	if g.state == rig.Stalled {
		return
	}
	if math.IsNaN(g.overS) {
		if c.RMSA > d.OverloadRatio*g.lim.ratedA {
			g.overS, g.belowS = g.crossing(c, d.OverloadRatio*g.lim.ratedA), never
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
			g.leaveOverload(g.belowS, fmt.Sprintf("current fell below %.1f A (%.2f x rated)", d.OverloadLeave*g.lim.ratedA, d.OverloadLeave))
			g.enter(rig.NoLoad, g.belowS)
		}
		g.wasOverS = g.overS
		g.overS, g.belowS = never, never
		return
	}
	g.belowS = never
	if !g.told && c.EndS-g.overS >= d.OverloadHoldS && !(c.EndS-g.highS < d.StallHoldS) {
		g.told = true
		g.events = append(g.events, event(rig.OverloadStart, g.overS, 0.05, 0.95,
			fmt.Sprintf("current passed %.1f A (%.2f x rated) and stayed there for %.1f s", d.OverloadRatio*g.lim.ratedA, d.OverloadRatio, d.OverloadHoldS)))
		g.enter(rig.Overloaded, g.overS)
	}
}

// reopen takes back the end of a stall or an overload that was only the falling edge of the stop.
func (g *grip) reopen(stopS float64) {
	n := len(g.events)
	if n == 0 || g.events[n-1].AtS.V < stopS-edgeS || g.events[n-1].AtS.V < g.sinceS {
		return
	}
	switch g.events[n-1].Kind {
	case rig.StallEnd:
		g.back(rig.Stalled, g.events[n-1].AtS.V)
	case rig.OverloadEnd:
		g.told, g.overS = true, g.wasOverS
		g.back(rig.Overloaded, g.events[n-1].AtS.V)
	default:
		return
	}
	g.events = g.events[:n-1]
}

// back returns to a state that was left at an instant.
func (g *grip) back(s rig.State, leftS float64) {
	if n := len(g.spans); n > 0 && g.spans[n-1].State == s && g.spans[n-1].ToS.V == leftS {
		g.spanS = g.spans[n-1].FromS.V
		g.spans = g.spans[:n-1]
	}
	g.state = s
}

// givenUp looks back at a start that was switched off early: at its full current to the end, it had
// failed.
func (g *grip) givenUp(stopS float64) {
	age, ref := stopS-g.sinceS, g.refA()
	high := g.prev.RMSA >= g.lim.set.StallRatio*ref
	if ref == 0 {
		high = g.prev.RMSA >= flatRatio*g.lim.ratedA // electronics limit it
	}
	if g.state == rig.Starting && age >= givenUpShare*g.lim.set.InrushLimitS && high && g.early.s > 0 && g.prev.RMSA >= begunShare*g.early.mean() {
		g.stall(g.sinceS, 0, fmt.Sprintf("the start drew %.1f A for %.1f s without falling, and was given up: the rotor never turned", g.prev.RMSA, age))
	}
}

// stop ends this stretch and tells a trip from a switch-off.
func (g *grip) stop(t turn) {
	kind, sure, evidence := rig.MotorStop, t.sure, t.evidence
	g.reopen(t.atS)
	g.givenUp(t.atS)
	trip := g.lim.set.TripAfterS
	out := func(what string, sinceS float64) {
		lasted := t.atS - sinceS
		if lasted >= trip && t.sure > 0.3 {
			kind, sure = rig.Trip, min(sure, 0.9)
			evidence += fmt.Sprintf(" after %.1f s of %s: presumed protector", lasted, what)
			return
		}
		evidence += fmt.Sprintf(" after %.1f s of %s", lasted, what)
		g.warnings = append(g.warnings, rig.Warning{Code: "short-" + what, Text: fmt.Sprintf(
			"at %.2f s the current stopped out of %.1f s of %s: shorter than trip_after_s = %g, so told as motor_stop; a hot protector or the electronics may have opened", t.atS, lasted, what, trip)})
	}
	switch {
	case g.state == rig.Stalled:
		g.leaveStall(t.atS, "the current stopped")
		out("stall", g.stallS)
	case g.told:
		out("overload", g.overS)
		g.leaveOverload(t.atS, "the current stopped")
	}
	g.events = append(g.events, event(kind, t.atS, t.withinS, sure, evidence))
	g.enter(map[rig.Kind]rig.State{rig.Trip: rig.Tripped, rig.MotorStop: rig.Off}[kind], t.atS)
}
