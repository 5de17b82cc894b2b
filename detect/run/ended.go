package run

import (
	"fmt"

	"quern/rig"
)

// soundSliceS is the length of the pieces in which the sound is followed after the clamp's recording has ended, s.
const soundSliceS = 0.1

// ClampEnded says that the clamp's recording ended at an instant and the sound goes on: from there on only that can
// tell that the motor stops.
func (m *Machine) ClampEnded(atS float64) {
	if m.flow.state == flowWarm {
		m.flow.begin()
	}
	m.flow.endedS, m.load.endedS = atS, atS
	m.flow.miss(Current{StartS: atS, EndS: atS, Missing: true})
	m.drain()
}

// HeardOn says that sound is in up to an instant after the clamp's end.
func (m *Machine) HeardOn(atS float64) {
	for f := &m.flow; f.missS+soundSliceS <= atS; {
		f.unseen(f.missS + soundSliceS)
	}
	m.drain()
}

// unseen waits for the sound to end. What stops with it is the motor, coarsely; what starts after it is not told.
func (f *flow) unseen(atS float64) {
	f.missS = atS
	if f.state != flowLost {
		f.decided = max(f.decided, atS)
		return
	}
	f.decided = max(f.decided, atS-longCoastS)
	la, _, ok := f.ear.levels(atS-1, atS)
	if !ok || f.lostLA-la < 2*fallDB || f.ear.hasRun() && la >= f.ear.runDB-fallDB {
		return
	}
	at := f.ear.fell(max(f.lostS, f.decided), atS, f.stoppedDB())
	f.stopLost(turn{atS: at, withinS: 0.5, sure: 0.5, unseen: true,
		evidence: fmt.Sprintf("the clamp's recording had ended at %.2f s, and the sound fell from %.0f to %.0f dB(A)", f.endedS, f.lostLA, la)})
	f.warn("clamp-ended", fmt.Sprintf("the clamp's recording ended at %.2f s while the motor ran, and the sound went on: the motor's state is unknown from there, and its stop at %.2f s is told by the sound alone; current figures cover the time up to the clamp's end", f.endedS, at))
}

// endRunning closes a stretch in which the motor ran to the recording's end.
func (f *flow) endRunning(endS float64) {
	t := turn{atS: endS, sure: 0.3, unseen: true, evidence: "the recording ended while the motor ran"}
	switch {
	case f.endedS == 0:
		f.warn(rig.EndedRunning, "the recording ended while the motor was running: the stop is the recording's end")
	default:
		t.evidence = fmt.Sprintf("the clamp's recording had ended at %.2f s, and the sound had not fallen when its own ended", f.endedS)
		f.warn("clamp-ended", fmt.Sprintf("the clamp's recording ended at %.2f s while the motor ran, and the sound went on: the motor's state is unknown from there; current figures cover the time up to the clamp's end", f.endedS))
		f.warn(rig.EndedRunning, fmt.Sprintf("the sound of the motor had not fallen when the recording ended: the stop at %.2f s is the recording's end", endS))
	}
	f.turns = append(f.turns, t)
	f.state = flowOff
}

// cutShort says of a stall or an overload that its end was not recorded.
func (g *grip) cutShort(what string, sinceS float64) rig.Warning {
	seen := g.prev.EndS
	return rig.Warning{Code: "ended-in-" + what, Text: fmt.Sprintf(
		"the recording of the current ended at %.2f s in the middle of %s %s, after %.1f s of it: whether the motor got out of it, was switched off or tripped is not known; told as motor_stop",
		seen, map[string]string{"stall": "a", "overload": "an"}[what], what, seen-sinceS)}
}
