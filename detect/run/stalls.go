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
	within := flatShare
	if !c.Wave {
		within = beatShare
	}
	if age < limit || math.Abs(c.RMSA-m) > within*m || !c.Wave && g.ran() {
		return false
	}
	g.stall(g.sinceS, flatLeave*m, fmt.Sprintf("the start drew a flat %.1f A for %.1f s: the electronics limit a rotor that never turned", m, age))
	return true
}

// neverRan says whether the current has stood at a height since the start, and nothing was heard to run up.
func (g *grip) neverRan(meanA float64) bool {
	i := len(g.past) - 1
	for i > 0 && math.Abs(g.past[i].RMSA-meanA) <= flatShare*meanA {
		i--
	}
	return i >= 0 && g.past[i].StartS < g.sinceS+earlyToS && g.ear.any && !g.ear.hasRun() && !g.ran()
}

// ran says whether the sound has risen since the start as that of a motor that runs up does.
func (g *grip) ran() bool {
	la, _, ok := g.ear.levels(g.ear.untilS()-0.3, g.ear.untilS())
	return ok && la > g.ambientDB+2*hushDB
}

func (g *grip) stall(atS, leaveA float64, evidence string) {
	if g.sagged(atS, leaveA) {
		return
	}
	g.leaveA, g.heldS, g.foundS, g.strays = leaveA, atS, g.prev.EndS, g.straying()
	_, g.stoodA, _ = g.deviation(max(atS, g.prev.EndS-g.lim.set.StallHoldS), g.prev.EndS)
	g.leftS = never
	if g.told {
		g.leaveOverload(atS, sureEnd, "the rotor locked")
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
	g.events = append(g.events, event(rig.StallStart, atS, g.withinS(0.02), sure, evidence))
	g.enter(rig.Stalled, atS)
}

// hum says whether the A-level is lower after an instant than before it.
func (g *grip) hum(atS float64) (fell bool, overDB float64, ok bool) {
	a0, _, ok0 := g.ear.levels(atS-1.5, atS-0.1)
	a1, c1, ok1 := g.ear.levels(atS+0.1, g.ear.untilS())
	return a1 < a0-2, c1 - a1, ok0 && ok1
}

// withinS is how close an instant can be placed: no closer than to a reading, which may be stamped at either end.
func (g *grip) withinS(leastS float64) float64 { return max(leastS, g.prev.rowS()) }

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
		if c.EndS-g.highS >= d.StallHoldS {
			// Since when it is quiet counts, not since when the current was high: heavy grinding may have come before.
			since := max(g.highS, c.EndS-2*d.StallHoldS)
			if ref >= wideRatio*g.lim.ratedA || c.RMSA >= wideRatio*g.lim.ratedA || g.hushed(since, c.EndS) != no {
				g.stall(g.lockedSince(g.highS, c), d.StallLeaveRatio*ref, fmt.Sprintf("current stood above %.0f %% of the locked-rotor %.1f A for %.1f s", 100*d.StallRatio, ref, d.StallHoldS))
				return
			}
		}
	}
	if g.lim.pulsed || !g.lim.induction && g.lim.lockedA == 0 {
		g.watchPlateau(c)
	}
}

// lockedSince places the instant at which a motor whose locked-rotor current lies within reach of heavy grinding
// locked: the last time its current rose to where it stands now.
func (g *grip) lockedSince(highS float64, c Current) float64 {
	at := highS
	if c.EndS-highS < g.lim.set.StallHoldS+edgeS {
		return at // it has only just become high
	}
	for i := len(g.past) - 1; i > 0 && g.past[i].EndS > highS; i-- {
		if p := &g.past[i]; p.RMSA < lockedShare*c.RMSA && p.RMSA < g.refA()*g.lim.set.StallRatio {
			at = g.past[i].EndS
			break
		}
	}
	return max(at, highS)
}

// watchPlateau looks for the stall of a motor whose electronics limit the current, or of a series motor of which it is not
// known what it draws locked: it stands flat, as no grinding does, and the cutters fall silent. Where other sounds hide that,
// it must be the flatter; where they were never as loud while the motor ran empty, that need not be heard. Where the nameplate
// tells what a locked rotor draws, it is no little of that.
func (g *grip) watchPlateau(c Current) {
	rated := g.lim.ratedA
	least, whose := lowRatio, "the electronics limit a locked rotor"
	if !g.lim.pulsed {
		least, whose = seriesLocked, "a locked rotor draws that"
	}
	if c.RMSA < max(least*rated, g.lim.set.StallLeaveRatio*g.lim.lockedA) || c.StartS < g.sinceS+c.rowS() { // the sound may lag a reading behind
		g.plateau = g.plateau[:0]
		return
	}
	g.plateau = append(g.plateau, c)
	first := len(g.plateau) - 1
	for first > 0 && g.plateau[first].StartS > c.EndS-g.lim.set.StallHoldS+1e-6 {
		first--
	}
	whole := g.plateau[first].StartS <= c.EndS-g.lim.set.StallHoldS+1e-6
	w := append(g.plateau[:0], g.plateau[first:]...)
	g.plateau = w
	few := len(w) < plateauLeastN // of readings the sound alone tells then
	if few && c.Wave || !whole {
		return
	}
	flat := flatnessOf(w)
	why := ""
	lower, heard := g.lower(w[0].StartS, c.EndS)
	switch {
	case !g.lim.pulsed && !(heard && lower >= hushDB), flat.mean < plateauRatio*rated && !(heard && lower >= 2*hushDB):
		return // a series motor may grind as evenly, and any one at so little
	case c.Wave && g.stoodStill(w) && (!g.shared && (g.silent(w[0].StartS, c.EndS) || g.fellSilent(w[0].StartS, c.EndS)) || (!heard || lower >= maskedDB || lower < -hushDB && g.softer(w[0].StartS, c.EndS)) && g.stillerUp(w[0].StartS, c.EndS)):
		why = "stiller than that of any rotor that turns"
	case c.Wave && c.EndS >= g.sinceS+g.lim.set.InrushLimitS && flat.dev < flatDev*flat.mean && g.neverRan(flat.mean):
		why = "nothing was heard to run up"
	case c.Wave && !g.shared && (lower < 2*hushDB || !heard):
		return
	case few && lower >= 2*hushDB && !g.muchQuieter(w[0].StartS, c.EndS):
		return // what is gone above 4 kHz may be impacts
	case !c.Wave && heard && lower >= 2*hushDB && flat.span < beatsShare*flat.mean:
		why = "the sound fell far below that of the empty motor"
	case !c.Wave && heard && lower >= hushDB && flat.span <= min(evenTimes*g.calm.beats, beatsShare)*flat.mean:
		why = "as even as the empty motor's, and the sound fell below its"
	case few, flat.span > flatShare*flat.mean:
		return
	case !c.Wave && !g.ear.any && flat.mean > wideRatio*rated:
		why = "higher than any rotor grinds"
	case heard && lower >= hushDB:
		why = "the sound fell below that of the empty motor"
	case heard && lower >= maskedDB && g.ear.runDB-lower < g.betweenDB+sameDB && flat.mean >= flatRatio*rated && flat.dev < flatDev*flat.mean:
		why = "the sound fell as far as others let it"
	default:
		return
	}
	at := w[0].StartS
	within := flatShare
	if !c.Wave {
		within = max(within, flat.span/flat.mean)
	}
	for i := len(g.past) - 1; i >= 0 && math.Abs(g.past[i].RMSA-flat.mean) <= within*flat.mean; i-- {
		at = min(at, g.past[i].StartS)
	}
	if at < g.sinceS+earlyToS && !g.ear.hasRun() {
		at = g.sinceS
	}
	g.stall(max(at, g.sinceS), flatLeave*flat.mean, fmt.Sprintf("current stood flat at %.1f A and %s: %s", c.RMSA, why, whose))
	g.stoodA = flat.mean
}

// muchQuieter says whether all of the sound, not its treble alone, is far below that of the running motor.
func (g *grip) muchQuieter(fromS, toS float64) bool {
	la, _, ok := g.ear.levels(fromS+0.1, toS)
	return ok && la < g.ear.runDB-2*hushDB
}

// flatness of a stretch of records.
type flatness struct{ mean, dev, span float64 }

func flatnessOf(cs []Current) flatness {
	s := sideOf(cs)
	lo, hi := math.Inf(1), 0.0
	for _, c := range cs {
		lo, hi = min(lo, c.RMSA), max(hi, c.RMSA)
	}
	return flatness{s.mean, s.dev, hi - lo}
}

// remember keeps the last records.
func (g *grip) remember(c Current) {
	g.past = append(g.past, c)
	if n := len(g.past); n > 32 && c.EndS-g.past[n/2].EndS > pastS {
		g.past = append(g.past[:0], g.past[n/2:]...)
	}
}

// lower returns by how much it is quieter than the running motor ever was, dB, in all or above 4 kHz.
func (g *grip) lower(fromS, toS float64) (byDB float64, ok bool) {
	la, _, ok := g.ear.levels(fromS+0.1, toS)
	if !ok || !g.ear.hasRun() {
		return 0, false
	}
	by := g.ear.runDB - la
	if lt, ok := g.ear.treble(fromS+0.1, toS); ok && !math.IsInf(g.ear.runTop, 1) {
		by = max(by, g.ear.runTop-lt) // someone may be speaking meanwhile
	}
	return by, true
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
	by, ok := g.lower(fromS, toS)
	switch {
	case !ok:
		return unknown
	case by > hushDB:
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
		if !g.ear.hasRun() {
			g.ear.mostDB = la
		}
		g.ear.runDB, g.ear.mostDB = min(g.ear.runDB, la), max(g.ear.mostDB, la)
		if lt, ok := g.ear.treble(c.EndS-hushS, c.EndS); ok {
			g.ear.runTop = min(g.ear.runTop, lt)
		}
	}
	g.quietS = c.EndS
}
