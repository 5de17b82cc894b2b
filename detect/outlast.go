package detect

import (
	"fmt"

	"quern/detect/run"
	"quern/rig"
)

// tailS is by how much the sound must outlast the current to be followed after it, s.
const tailS = 0.5

// hearOn follows the sound after the clamp's recording has ended, once it is known to go on.
func (a *Analysis) hearOn() {
	clamp := a.streams[rig.Clamp]
	if len(a.frames) == 0 || a.frames[len(a.frames)-1].EndS < clamp.endS+tailS {
		return
	}
	for i := range a.frames {
		f := &a.frames[i]
		if !a.soundOn && f.EndS > clamp.endS {
			a.soundOn = true
			a.machine.ClampEnded(clamp.endS)
		}
		a.listen(f)
		if a.soundOn {
			a.machine.HeardOn(f.EndS)
		}
	}
	a.frames = a.frames[:0]
}

// hearOut hands the listener what is left of the sound and too short to be followed.
func (a *Analysis) hearOut() {
	for i := range a.frames {
		a.listener.Heard(heard(&a.frames[i]))
	}
	a.frames = a.frames[:0]
}

// heardLater warns of a motor that was only heard because the clamp's recording had ended.
func (a *Analysis) heardLater(heard []run.Found) {
	endS := a.endS(rig.Clamp)
	for i := range heard {
		for _, on := range heard[i].On {
			if on.FromS > endS && on.Lasts() >= 2 {
				a.warn("clamp-ended", fmt.Sprintf("the clamp's recording ended at %.2f s; a motor was heard from %.1f to %.1f s, after that: it is not told as a start or a run", endS, on.FromS, on.ToS))
			}
		}
	}
}
