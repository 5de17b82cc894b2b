package run

import "fmt"

// miss takes a stretch in which the clamp's source was gone. A motor that was off stays so for all that
// is known, one that was on is unknown until the source is back.
func (f *flow) miss(c Current) {
	switch f.state {
	case flowWarm, flowOff:
		f.decided = max(f.decided, c.StartS)
	case flowRising:
		if f.state = flowOff; c.StartS-f.candS >= f.lim.set.OnHoldS || f.peak > f.inrushA() {
			f.start(f.cand)
		}
	case flowFalling: // the clamp may have been pulled out
		f.state = flowOn
	}
	if f.state == flowOn {
		f.lose(c.StartS)
	}
	if f.state == flowLost {
		f.missing, f.back = true, meanOver{}
	}
	f.missS = max(f.missS, c.EndS)
	f.recent = f.recent[:0]
}

// regained takes the first records after the source has come back, and tells from them and the sound
// whether the motor is still on.
func (f *flow) regained(c Current) {
	if c.RMSA >= f.offA() {
		f.regain(c, c.StartS, fmt.Sprintf("the clamp's source was gone from %.2f to %.2f s while the motor ran; it ran when the source was back", f.lostS, c.StartS))
		return
	}
	f.back.add(c.RMSA, c.EndS-c.StartS)
	if c.EndS-f.missS < f.lim.set.OffHoldS {
		return
	}
	at, how, ok := f.silentSince(c.EndS)
	within := 0.5
	if !ok || at > f.missS {
		at, within, how = (f.lostS+f.missS)/2, (f.missS-f.lostS)/2, "; when is not known"
	}
	f.stopLost(turn{atS: at, withinS: within, sure: 0.5,
		evidence: fmt.Sprintf("the clamp's source was gone from %.2f to %.2f s and no current flowed when it was back%s", f.lostS, f.missS, how)})
	f.warn("clamp-back", fmt.Sprintf("the motor stopped while the clamp's source was gone (%.2f to %.2f s)", f.lostS, f.missS))
}
