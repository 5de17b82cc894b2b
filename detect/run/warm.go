package run

import (
	"fmt"
	"math"

	"quern/rig"
)

// heatStrays is by how much the current of what heats strays from a line in half a second, as a share, with the clamp's
// noise: a loaded motor's does by 1 % and more.
const heatStrays = 0.004

// socketA is what no appliance on a socket draws more than, A: one of 120 or 230 V carries 13 to 16. A rotor that stands
// locked may, and is not heard.
const socketA = 16.0

// warm looks at the first records and decides from what state the recording begins.
func (f *flow) warm(c Current) {
	if c.EndS < warmS || len(f.recent) < 3 {
		return
	}
	// Current from the first record on: the sound tells whose it is, and may need a moment to.
	if c.EndS < warmHearS && f.lowest().RMSA > f.wholeShare()*f.lim.priorIdle && f.ear.any && !f.likeOurs() && f.ear.steadyDB(c.EndS) <= f.ear.loudDB {
		return
	}
	f.begin()
}

// likeOurs says whether the current that flowed from the first record on is what this induction motor
// draws: most of its rated current, and not much more. A refrigerator draws less, a kettle more.
func (f *flow) likeOurs() bool {
	a := f.lowest().RMSA
	return f.lim.induction && a > 0.45*f.lim.ratedA && a < 1.3*f.lim.ratedA
}

// lowest is the smallest of the records kept.
func (f *flow) lowest() Current {
	low := f.recent[0]
	for _, r := range f.recent {
		if r.RMSA < low.RMSA {
			low = r
		}
	}
	return low
}

// wholeShare is the share of the least no-load current from which a steady current may be the motor's.
func (f *flow) wholeShare() float64 {
	if f.lim.induction {
		return 0.6
	}
	return 0.5
}

// heats says whether the records with which the recording begins are of something else: a current as flat as what heats
// draws, which is more than an empty motor's and less than a locked one's, or which has no harmonics where the motor has a
// rectifier. One that corrects its current must be heard.
func (f *flow) heats(seen []Current, loud bool) bool {
	var l line
	sum, third := 0.0, 0.0
	for _, c := range seen {
		if !c.Wave || !(c.FundA > 0) {
			return false
		}
		l.add(c.EndS, c.FundA)
		sum += c.FundA
		third += c.ThirdA
	}
	mean := sum / l.n
	flat := l.deviation() < heatStrays*mean
	sine := f.lim.pulsed && third < sineThird*sum
	switch {
	case !flat:
		return false
	case mean > idleMost*f.lim.ratedA:
		return sine || f.lim.induction && mean < f.lim.set.StallRatio*f.lim.locked()
	}
	return sine && !(f.ear.any && loud)
}

func (f *flow) begin() {
	seen := append([]Current(nil), f.recent...)
	if len(seen) == 0 {
		return
	}
	low, share := f.lowest(), f.wholeShare()
	loud := !f.ear.any || f.likeOurs() || low.RMSA > max(guestMost*f.lim.ratedA, socketA) || f.ear.leastDB(seen[0].StartS, seen[len(seen)-1].EndS) > f.ear.loudDB
	if half := seen[len(seen)/2:]; f.heats(half, loud) { // the clamp's offset is not known at once
		loud, low, seen = false, half[len(half)-1], half
	}
	f.state = flowOff
	if low.RMSA > share*f.lim.priorIdle && loud && !f.notOurs(low) {
		f.state = flowOn
		f.turns = append(f.turns, turn{on: true, atS: seen[0].StartS, withinS: seen[0].EndS - seen[0].StartS, sure: 0.5,
			evidence: fmt.Sprintf("%.1f A flowed when the recording began", low.RMSA)})
		f.warn(rig.BeganRunning, "the motor was already running when the recording began: start, inrush, background and the noise of the clamp are not known")
		f.slow = low.RMSA
		f.startS, f.prior = seen[0].StartS, prior{began: true, roseDB: math.NaN()}
		// Quiet, or not heard at all, it may be another appliance's: then the motor's own start comes on top of it.
		if f.held = !f.ear.any || f.ear.leastDB(seen[0].StartS, seen[len(seen)-1].EndS) <= f.ear.loudDB; f.held {
			f.decided = f.startS - beganMostS
		}
	} else {
		f.base, f.offPeak = low.RMSA, low.PeakA
		if low.RMSA > share*f.lim.priorIdle {
			f.other = low.RMSA                 // all of it: what the clamp shows without is not known
			f.spread = sq(straysBy * low.RMSA) // nor how far the supply moves it
			f.warn("other-appliance", fmt.Sprintf("%.1f A flowed when the recording began, as no motor draws it, or without a motor's sound: another appliance is on the conductor", low.RMSA))
		}
	}
	f.recent = f.recent[:0]
	for _, r := range seen {
		f.recent = append(f.recent, r)
		f.next(r)
	}
}
