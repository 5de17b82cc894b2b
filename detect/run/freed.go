package run

import (
	"math"

	"quern/rig"
)

// A rotor that breaks free turns before its current shows it.

// leaveStall tells that a stall ended.
func (g *grip) leaveStall(atS, sure float64, evidence string) {
	if n := len(g.events); n > 0 && g.events[n-1].Kind == rig.StallStart && atS <= g.events[n-1].AtS.V {
		g.events = g.events[:n-1] // what had ended before it began was none
		g.undone = true
		return
	}
	g.events = append(g.events, event(rig.StallEnd, atS, g.withinS(0.02), sure, evidence))
}

const (
	leftUp    = 1.12 // times where the current stood, above which it has left that
	leftDown  = 0.85 // and below which
	leftHoldS = 0.1  // s for which it has, at least
	stoodS    = 1.0  // s over which that is known: copper that heats draws less
)

// freedAt says whether a rotor that stood has broken free, as it is heard at once, though its current has not fallen as far as
// it will: what it goes on grinding is hard, or electronics let it draw more as it turns.
func (g *grip) freedAt(c Current) (atS float64, ok bool) {
	up := g.lim.pulsed && c.RMSA > leftUp*g.stoodA
	if !up && c.RMSA > leftDown*g.stoodA {
		g.leftS = never
		g.stoodA += min((c.EndS-c.StartS)/2/stoodS, 1) * (c.RMSA - g.stoodA)
		return 0, false
	}
	if math.IsNaN(g.leftS) {
		g.leftS = c.midS()
	}
	if c.EndS-g.leftS < leftHoldS {
		return 0, false
	}
	was, _, ok0 := g.ear.levels(max(g.stallS+0.1, g.leftS-hushS), g.leftS-0.1)
	is, _, ok1 := g.ear.levels(c.EndS-leftHoldS, c.EndS)
	if !ok0 || !ok1 || is-was < freedDB {
		return 0, false
	}
	atS = g.leftS
	if !up {
		atS = min(atS, g.fallsSince())
	}
	return max(atS, g.heldS), true
}

// falls returns by how much a record lies below those just before it, as a share of these.
func (g *grip) falls(nth int) float64 {
	c := &g.past[nth]
	before := between(g.past[:nth], c.EndS-fallsOverS-c.rowS(), c.EndS)
	if len(before) == 0 {
		return 0
	}
	return 1 - c.RMSA/sideOf(before).mean
}

// straying returns the most that the current of a rotor that has just been found locked falls by.
func (g *grip) straying() float64 {
	most := 0.0
	for i := len(g.past) - 1; i >= 0 && g.past[i].StartS >= g.prev.EndS-g.lim.set.StallHoldS; i-- {
		most = max(most, g.falls(i))
	}
	return most
}

// fallsSince returns when the current began to fall that has done so up to now. A rotor that breaks free turns long before
// its current is much less; one that did so before it was found to stand had not stood.
func (g *grip) fallsSince() float64 {
	i := len(g.past) - 1
	for j := i; j >= 0; j = g.higher(i) { // what it grinds as it speeds up may lift the current once more
		i = j
		for i > 0 && g.prev.rowS() < fallsOverS/2 && g.falls(i) > max(g.strays, fallsLeast) { // longer readings are too few to tell
			i--
		}
	}
	if i < 0 || g.past[i].midS() < g.foundS {
		return g.stallS
	}
	return g.past[i].midS()
}

// higher returns which record a little before one was the last that lay far above it; -1: none did.
func (g *grip) higher(nth int) int {
	c := &g.past[nth]
	for i := nth - 1; i >= 0 && g.prev.rowS() < fallsOverS/2 && g.past[i].EndS > c.EndS-bumpS; i-- {
		if c.RMSA < bumpShare*g.past[i].RMSA {
			return i
		}
	}
	return -1
}
