package run

import (
	"fmt"
	"math"
)

// miss takes a stretch in which the clamp's source was gone. A motor that was off stays so for all that
// is known, one that was on is unknown until the source is back.
func (f *flow) miss(c Current) {
	switch f.state {
	case flowWarm, flowOff:
		f.decided = max(f.decided, c.StartS)
	case flowRising:
		if f.cand.EndS > 0 && (c.StartS-f.candS >= f.lim.set.OnHoldS || f.peak > f.inrushA()) {
			f.start(f.cand)
			f.vanish(c)
		} else {
			f.state = flowOff
		}
	case flowFalling:
		if c.StartS-f.candS >= f.lim.set.OffHoldS && !f.step {
			f.stop(0.9, "; then the clamp's source was gone")
		} else {
			f.state = flowOn
			f.vanish(c)
		}
	case flowOn:
		f.vanish(c)
	}
	if f.state == flowLost {
		f.missing, f.back = true, meanOver{}
	}
	f.missS = max(f.missS, c.EndS)
	f.recent = f.recent[:0]
}

// vanish notes that the motor was on when the source went.
func (f *flow) vanish(c Current) {
	f.lostA = f.slow
	f.lostS, f.state = c.StartS, flowLost
	f.lostLA, _, _ = f.ear.levels(c.StartS-1, c.StartS)
}

// regained takes the first records after the source has come back, and tells from them and the sound
// whether the motor is still on.
func (f *flow) regained(c Current) {
	if c.RMSA >= f.offA() {
		f.lost = append(f.lost, Interval{f.lostS, c.StartS})
		f.missing = false
		f.warn("clamp-back", fmt.Sprintf("the clamp's source was gone from %.2f to %.2f s while the motor ran; it ran when the source was back", f.lostS, c.StartS))
		f.state, f.slow, f.resumedS = flowOn, c.RMSA, c.EndS
		return
	}
	f.back.add(c.RMSA, c.EndS-c.StartS)
	if c.EndS-f.missS < f.lim.set.OffHoldS {
		return
	}
	at, within := (f.lostS+f.missS)/2, (f.missS-f.lostS)/2
	how := "; when is not known"
	if la, _, ok := f.ear.levels(c.EndS-0.3, c.EndS); ok && f.lostLA-la >= fallDB && c.EndS-f.lostS < earS-2 {
		if t := f.ear.fell(f.lostS, c.EndS, f.lostLA-fallDB); !math.IsNaN(t) && t <= f.missS {
			at, within = t, 0.5
			how = fmt.Sprintf("; the sound fell from %.0f to %.0f dB(A) then", f.lostLA, la)
		}
	}
	f.lost = append(f.lost, Interval{f.lostS, at})
	f.missing = false
	f.turns = append(f.turns, turn{on: false, atS: at, withinS: within, sure: 0.5,
		evidence: fmt.Sprintf("the clamp's source was gone from %.2f to %.2f s and no current flowed when it was back%s", f.lostS, f.missS, how)})
	f.warn("clamp-back", fmt.Sprintf("the motor stopped while the clamp's source was gone (%.2f to %.2f s)", f.lostS, f.missS))
	f.state, f.stopS, f.decided = flowOff, at, at
}
