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
	flatUp  = 1.12 // times where the current stood, above which it has left that
	upHoldS = 0.1  // s for which it is, at least
)

// freedUp says whether a rotor that stood has broken free under electronics that let it draw more as it turns: it is heard at
// once.
func (g *grip) freedUp(c Current) bool {
	if g.flatA == 0 || c.RMSA < flatUp*g.flatA {
		g.upS = never
		return false
	}
	if math.IsNaN(g.upS) {
		g.upS = c.midS()
	}
	if c.EndS-g.upS < upHoldS {
		return false
	}
	was, _, ok0 := g.ear.levels(max(g.stallS+0.1, g.upS-hushS), g.upS-0.02)
	is, _, ok1 := g.ear.levels(g.upS+0.02, c.EndS)
	return ok0 && ok1 && is-was > freedDB
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
