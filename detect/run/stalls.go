package run

import (
	"fmt"
	"math"
	"quern/rig"
)

// limited looks for a start whose current stays on a flat plateau: electronics that limit the current of
// a rotor that does not turn.
func (g *grip) limited(c Current, age, s float64) bool {
	limit := g.lim.set.InrushLimitS
	if age < limit-2*earlyToS+s {
		return false
	}
	g.late.add(c.RMSA, s)
	m := g.late.mean()
	if age < limit || math.Abs(c.RMSA-m) > flatShare*m {
		return false
	}
	g.stall(g.sinceS, flatLeave*m, fmt.Sprintf("the start drew a flat %.1f A for %.1f s: the electronics limit a rotor that never turned", m, age))
	return true
}

func (g *grip) stall(atS, leaveA float64, evidence string) {
	g.leaveA, g.flatA, g.flatS = leaveA, g.prev.RMSA, atS
	if g.told {
		g.leaveOverload(atS, "the rotor locked")
	}
	g.overS, g.belowS, g.highS = never, never, never
	g.stallS = atS
	sure := 0.95
	if a, c, ok := g.hum(atS); ok {
		if a {
			sure = 1
			evidence += fmt.Sprintf("; the A-level fell while the hum stayed (C over A by %.0f dB)", c)
		} else if g.state != rig.Starting {
			sure = 0.85
		}
	}
	g.events = append(g.events, event(rig.StallStart, atS, 0.02, sure, evidence))
	g.enter(rig.Stalled, atS)
}

// hum says whether the A-level is lower after an instant than before it.
func (g *grip) hum(atS float64) (fell bool, overDB float64, ok bool) {
	a0, _, ok0 := g.ear.levels(atS-1.5, atS-0.1)
	a1, c1, ok1 := g.ear.levels(atS+0.1, g.ear.untilS())
	return a1 < a0-2, c1 - a1, ok0 && ok1
}

func (g *grip) leaveStall(atS float64, evidence string) {
	g.events = append(g.events, event(rig.StallEnd, atS, 0.02, 0.95, evidence))
}

// watchStall looks for a rotor that locks while it runs.
func (g *grip) watchStall(c Current) {
	d, ref := g.lim.set, g.refA()
	if ref > 0 {
		switch {
		case c.RMSA >= d.StallRatio*ref:
			if math.IsNaN(g.highS) {
				g.highS = g.crossing(c, d.StallRatio*ref)
			}
		case c.RMSA < d.StallLeaveRatio*ref:
			g.highS = never
		}
		if c.EndS-g.highS >= d.StallHoldS && (ref >= wideRatio*g.lim.ratedA || g.hushed(g.highS, c.EndS) != no) {
			g.stall(g.highS, d.StallLeaveRatio*ref, fmt.Sprintf("current stood above %.0f %% of the locked-rotor %.1f A for %.1f s", 100*d.StallRatio, ref, d.StallHoldS))
			return
		}
	}
	if g.lim.induction || !g.ear.any {
		return
	}
	g.watchPlateau(c)
}

// watchPlateau looks for the stall of a motor whose electronics limit the current: a flat plateau
// above rated, and the cutters fall silent.
func (g *grip) watchPlateau(c Current) {
	if c.RMSA < flatRatio*g.lim.ratedA {
		g.plateau = g.plateau[:0]
		return
	}
	g.plateau = append(g.plateau, c)
	first := 0
	for first < len(g.plateau) && g.plateau[first].StartS < c.EndS-g.lim.set.StallHoldS {
		first++
	}
	if first == 0 {
		return
	}
	w := g.plateau[first-1:]
	lo, hi := math.Inf(1), 0.0
	for _, p := range w {
		lo, hi = min(lo, p.RMSA), max(hi, p.RMSA)
	}
	g.plateau = append(g.plateau[:0], w...)
	if hi-lo > flatShare*hi {
		return
	}
	at := w[0].StartS
	if g.hushed(at, c.EndS) == yes {
		g.stall(at, flatLeave*c.RMSA, fmt.Sprintf("current stood flat at %.1f A and the sound fell below that of the empty motor: the electronics limit a locked rotor", c.RMSA))
	}
}

type answer int

const (
	unknown answer = iota
	yes
	no
)

// hushed says whether the sound since an instant is below any that the running motor made: only a rotor
// that stands is quieter than an empty one.
func (g *grip) hushed(fromS, toS float64) answer {
	la, _, ok := g.ear.levels(fromS+0.1, toS)
	switch {
	case !ok || math.IsInf(g.quietDB, 1):
		return unknown
	case la < g.quietDB-hushDB:
		return yes
	}
	return no
}

// listen keeps the lowest level of the running motor.
func (g *grip) listen(c Current) {
	if c.EndS < g.quietS+hushS || !math.IsNaN(g.highS) || len(g.plateau) > 0 {
		return
	}
	if la, _, ok := g.ear.levels(c.EndS-hushS, c.EndS); ok && c.EndS-g.sinceS > 1 {
		g.quietDB = min(g.quietDB, la)
	}
	g.quietS = c.EndS
}
