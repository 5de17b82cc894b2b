package detect

import (
	"fmt"

	"quern/detect/run"
	"quern/rig"
)

// choose finishes every finder and takes the best evidence there is: current, else sound, else the
// shaking of the scale.
func (a *Analysis) choose() ([]run.Found, finder) {
	var heard []run.Found
	if a.listener != nil {
		heard = a.listener.Finish(a.endS(rig.Microphone))
		a.books[0].settle()
	}
	if a.machine != nil {
		endS := a.endS(rig.Clamp)
		if a.soundOn {
			endS = a.endS(rig.Clamp, rig.Microphone)
		}
		found := a.machine.Finish(endS)
		if len(found) > 0 || len(heard) == 0 || !a.loudRun(heard) {
			if a.soundOn {
				a.heardLater(heard)
			}
			return found, a.machine
		}
		if a.soundOn && heard[0].StartS() > a.endS(rig.Clamp) {
			a.blind = "clamp-ended"
			a.warn(a.blind, fmt.Sprintf("the clamp's recording ended at %.2f s, before a motor was heard: runs come from the sound, current figures are absent", a.endS(rig.Clamp)))
			return heard, a.listener
		}
		code, text := a.blindClamp(heard)
		a.blind = code
		a.warn(code, text)
		return heard, a.listener
	}
	if a.listener != nil {
		if len(heard) > 0 {
			a.warn("no-current", "no current was recorded: starts and stops come from the sound and are coarser (some tenths of a second); load, stalls, overloads and trips are not told")
		}
		return heard, a.listener
	}
	if a.shaker != nil {
		found := a.shaker.Finish(a.endS(rig.Scale))
		a.warn("scale-only", "only a scale was recorded: starts and stops come from the shaking of its pan and are coarse (1.5 s)")
		return found, a.shaker
	}
	return nil, nil
}

// loudRun says whether what was heard was long and loud enough to have been a motor.
func (a *Analysis) loudRun(heard []run.Found) bool {
	for i := range heard {
		if heard[i].OnS() >= 5 {
			if la := a.books[0].tally(i).laeqDB(); la.OK && la.V > a.set.Bench.Detect.Heard.RunningAboveDB {
				return true
			}
		}
	}
	return false
}
