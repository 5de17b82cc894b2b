package run

import (
	"fmt"

	"quern/rig"
)

// reopen takes back the end of a stall or an overload that was only the falling edge of the stop.
func (g *grip) reopen(stopS float64) {
	n := len(g.events)
	edge := edgeS
	if p := &g.prev; !p.Wave {
		edge = max(edge, 4*(p.EndS-p.StartS)) // a reading may hold the edge and what was before it
	}
	if n == 0 || g.events[n-1].AtS.V < stopS-edge || g.events[n-1].AtS.V < g.sinceS {
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
