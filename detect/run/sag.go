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
