package run

import (
	"fmt"

	"quern/rig"
)

// reopen takes back the end of a stall or an overload that was only the falling edge of the stop.
func (g *grip) reopen(stopS float64) {
	n := len(g.events) - 1 // the start of this stretch, if nothing came since
	last := g.events[n]
	switch {
	case last.AtS.V < stopS-g.stopEdgeS():
		return
	case last.Kind == rig.StallEnd:
		g.back(rig.Stalled, last.AtS.V)
	case last.Kind == rig.OverloadEnd:
		g.told, g.overS = true, g.wasOverS
		g.back(rig.Overloaded, last.AtS.V)
	default:
		return
	}
	g.events = g.events[:n]
}

// unseen takes a record of a clamp that is gone while the motor is on. A rotor that stood when it went stands until its
// current is seen to be less.
func (g *grip) unseen(c Current) {
	if g.prev.EndS > 0 {
		g.reopen(c.StartS)
	}
	g.heldS = c.EndS
	g.prev = Current{} // nothing is known of how the current came to be what it will be
}

// stopEdgeS is how long before a stop what is seen may be the stop's own edge.
func (g *grip) stopEdgeS() float64 {
	if p := &g.prev; !p.Wave {
		return max(edgeS, 4*(p.EndS-p.StartS)) // a reading may hold the edge and what was before it
	}
	return edgeS
}

// back returns to a state that was left at an instant.
func (g *grip) back(s rig.State, leftS float64) {
	if n := len(g.spans); n > 0 && g.spans[n-1].State == s && g.spans[n-1].ToS.V == leftS {
		g.spanS = g.spans[n-1].FromS.V
		g.spans = g.spans[:n-1]
	}
	g.state = s
}

// lastA is the RMS just before a stop. A reading may hold the stop's edge, and one alone is no whole number of cycles.
func (g *grip) lastA() float64 {
	if g.prev.Wave {
		return g.prev.RMSA
	}
	m := meanOver{}
	for i := len(g.past) - 2; i >= 0 && g.past[i].StartS > max(g.sinceS, g.prev.EndS-earlyToS); i-- {
		m.add(g.past[i].RMSA, 1)
	}
	if m.s == 0 {
		return g.prev.RMSA
	}
	return m.mean()
}

// givenUp looks back at a start that was switched off early: at its full current to the end, it had
// failed.
func (g *grip) givenUp(stopS float64) {
	age, ref := stopS-g.sinceS, g.refA()
	if n := len(g.spans); g.state == rig.NoLoad && g.spanS > stopS-g.stopEdgeS() && n > 0 && g.spans[n-1].State == rig.Starting {
		g.back(rig.Starting, g.spanS)
	}
	last := g.lastA()
	high := last >= g.lim.set.StallRatio*ref
	if ref == 0 {
		high = last >= flatRatio*g.lim.ratedA // electronics limit it
	}
	if g.state == rig.Starting && age >= givenUpShare*g.lim.set.InrushLimitS && high && g.early.s > 0 && last >= begunShare*g.early.mean() {
		g.stall(g.sinceS, 0, fmt.Sprintf("the start drew %.1f A for %.1f s without falling, and was given up: the rotor never turned", last, age))
	}
}

// stop ends this stretch and tells a trip from a switch-off.
func (g *grip) stop(t turn) {
	kind, sure, evidence := rig.MotorStop, t.sure, t.evidence
	how, sureHow := "the current stopped", sureEnd
	if t.unseen {
		how, sureHow = t.evidence, min(t.sure, sureEnd)
	}
	g.reopen(t.atS)
	g.givenUp(t.atS)
	trip := g.lim.set.TripAfterS
	out := func(what string, sinceS float64) {
		lasted := t.atS - sinceS
		if t.unseen {
			evidence += ", out of the " + what
			g.warnings = append(g.warnings, g.cutShort(what, sinceS))
			return
		}
		if lasted >= trip {
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
		g.leaveStall(t.atS, sureHow, how)
		since := g.stallS
		if heard := g.ear.sameSince(since); g.dead && heard < since { // the clamp came back, and it had stood before
			evidence += fmt.Sprintf(" (what is heard had not changed since %.1f s, while the clamp was dead)", heard)
			since = heard
		}
		out("stall", since)
	case g.told:
		out("overload", g.overS)
		g.leaveOverload(t.atS, sureHow, how)
	}
	if g.began && !g.ear.any {
		sure = min(sure, sureBegan)
		evidence += "; it flowed when the recording began, and no sound was recorded: it may be another appliance's"
	}
	g.events = append(g.events, event(kind, t.atS, t.withinS, sure, evidence))
	g.enter(map[rig.Kind]rig.State{rig.Trip: rig.Tripped, rig.MotorStop: rig.Off}[kind], t.atS)
}
