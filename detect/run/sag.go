package run

import (
	"fmt"

	"quern/rig"
)

const (
	sagS     = 0.5        // s that the supply sags for at most; a rotor that breaks free takes longer to lock again
	sagHoldS = sagS + 0.1 // s that a current must stay low that has gone, and not sagged with the supply
	goneS    = sagHoldS   // s after a jump of the fundamental at which it is judged
)

// sagged says of a stall that begins at an instant whether it is the last one going on after the supply sagged: its
// end is taken back then.
func (g *grip) sagged(atS, leaveA float64) bool {
	for i := len(g.events) - 1; i >= 0 && g.events[i].AtS.V >= max(g.sinceS, atS-sagS-1.5*g.prev.rowS()); i-- {
		e := &g.events[i]
		if e.Kind != rig.StallEnd {
			continue
		}
		g.leaveA, g.heldS, g.foundS, g.strays = leaveA, atS, g.prev.EndS, g.straying()
		g.overS, g.belowS, g.highS = never, never, never
		g.back(rig.Stalled, e.AtS.V)
		g.events = append(g.events[:i], g.events[i+1:]...)
		g.warnings = append(g.warnings, rig.Warning{Code: "supply-sagged", Text: fmt.Sprintf(
			"at %.2f s the current of the locked rotor fell and was back within %.1f s: the supply will have sagged", atS, sagS)})
		return true
	}
	return false
}

// Below the no-load current it is the supply that fell: load draws more, never less.
const (
	dipBands   = 1.5 // half-widths of the no-load band below
	emptyShare = 0.5 // share of the no-load current below which the motor does not turn by its current
)

// dips says whether the supply dipped in a block or just before it: the motor picks up speed again after a dip. Where
// next to nothing was left, it starts anew, or electronics try again to start a rotor that does not turn.
func (l *loads) dips(i int, t *template) bool {
	if t.shifted {
		return false
	}
	from := max(0, i-int(youngS/blockS))
	falls := i // the block since which the current has been falling
	for falls > from && l.blocks[falls].meanA < l.blocks[falls-1].meanA {
		falls--
	}
	for j := from; j <= min(i+1, len(l.blocks)-1); j++ {
		b := &l.blocks[j]
		if float64(b.meanA) < emptyShare*t.amp(b.fromS) || !b.young && j >= falls-3 && !t.shiftedIn(b) && l.level(j, t) < -dipBands {
			return true
		}
	}
	return false
}
