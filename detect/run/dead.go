package run

import (
	"fmt"
	"math"
)

// A dead clamp has no noise. Where its noise is back and no current flows, it lives, and the motor is off; a current
// that is back with the noise, after nothing was heard of a stop, had flowed all along.

const (
	goneShare = 0.05 // of a current that always flowed: less is left of it than any clamp's noise
	aliveS    = 0.3  // s of noise that show a clamp to be alive again
	coastsDB  = 0.7  // dB that the sound of a coasting rotor loses in half a second at least
	clearDB   = 10.0 // by which the motor stands above the room at least, for its going on to be known by ear
	fellDB    = 1.0  // dB by which the sound falls at least when a motor stops
)

// zeroShare of the time in which nothing flows must show none, for a reading of 0 to be usual.
const zeroShare = 0.1

// deadA is the noise below which a clamp is dead, A; 0: none is known. Where others hid its own noise from the first
// record on, it is a small part of what they draw. A meter that shows 0 while nothing flows has none to tell.
func (f *flow) deadA() float64 {
	if f.zeroS > zeroShare*f.learnS {
		return 0
	}
	if f.noise == 0 && f.learnS > 0 {
		return goneShare * (f.base - f.other)
	}
	return deadShare * f.noise
}

// muted says whether the clamp has had no noise of its own since the pending fall.
func (f *flow) muted() bool { return f.hush.s > 0 && f.hush.mean() < f.deadA() }

// deadBefore says whether the clamp was dead just before an instant.
func (f *flow) deadBefore(atS float64) bool {
	m := meanOver{}
	for _, c := range between(f.recent, atS-deadLookS, atS) {
		m.add(c.SwingA, 1)
	}
	return m.s > 0 && m.mean() < deadShare*f.noise
}

// silenced says whether the sound has fallen since the pending fall, and below any that the running motor made.
func (f *flow) silenced(nowS float64) bool {
	d, ok := f.ear.quieter(Interval{f.candS - 1, f.candS}, Interval{max(f.candS+0.1, nowS-soundS), nowS})
	return ok && d >= fellDB && f.hushed(nowS)
}

// runsOn says whether a motor that stood far above the room has since the pending fall never been quieter than it ever ran,
// nor all the time louder, as beside a tap: no rotor that nothing drives goes on so.
func (f *flow) runsOn(nowS float64) bool {
	if !f.ear.hasRun() || f.ear.runDB < f.ambientDB+clearDB || f.stands || f.fromA > inrushSure*f.lim.ratedA {
		return false
	}
	was, ok := f.ear.lullDB(f.candS-1, f.candS)
	if !ok || was < f.ear.runDB-fellDB {
		return false // it stood, or coasted already, or was just switched on
	}
	fromS := f.candS + 0.1
	if nowS < fromS+0.1 {
		return true // not known yet
	}
	is, ok := f.ear.lullDB(fromS, nowS)
	return ok && is >= f.ear.runDB-fellDB && is <= f.ear.runDB+fallDB
}

// soundsAlike says whether since the pending fall it is as loud as the second before, high and low.
func (f *flow) soundsAlike(nowS float64) bool {
	for _, of := range []func(h *Heard) float64{func(h *Heard) float64 { return h.EA }, func(h *Heard) float64 { return h.EC }, func(h *Heard) float64 { return h.ET }} {
		was, ok := f.ear.median(f.candS-1, f.candS, of)
		is, now := f.ear.median(f.candS+0.1, nowS, of)
		if ok && now && is < was-fellDB {
			return false
		}
	}
	return true
}

// coasts says whether the sound has died away evenly since the pending fall, as that of a rotor does that nothing drives. A
// motor that runs on with a dead clamp may lose its load, but does not grow fainter from one half second to the next.
func (f *flow) coasts(nowS float64) bool {
	n, first, last := 0, 0.0, math.Inf(1)
	for t := f.candS; t+0.5 <= nowS; t += 0.5 {
		la, _, ok := f.ear.levels(t, t+0.5)
		if !ok || la > last-coastsDB {
			return false
		}
		if n++; n == 1 {
			first = la
		}
		last = la
	}
	return n > 1 && last < first-fallDB // little may be by chance
}

// outlived takes a current that comes back while it is not known yet whether the motor had stopped or the clamp had
// died: with a clamp that was dead and a sound that went on, the motor had not stopped.
func (f *flow) outlived(c Current, gap float64) bool {
	off := gap > hearS && f.runsOn(c.StartS) && f.soundsAlike(c.StartS)
	if !f.ear.any || !off && (!f.muted() || gap < soundS || f.silenced(c.StartS)) {
		return false
	}
	f.warn("clamp-lost", fmt.Sprintf("current vanished at %.2f s while the sound went on, and came back at %.2f s: the clamp was dead, unplugged or off the conductor; the motor's state between is unknown", f.candS, c.StartS))
	f.lost = append(f.lost, Interval{f.candS, c.EndS}) // its first record is not whole
	f.state, f.slow, f.resumedS = flowOn, c.RMSA, c.EndS
	return true
}

// alive takes a record of a clamp that had died while the motor was on: once its noise is back without a current, the
// motor has stopped meanwhile.
func (f *flow) alive(c Current) bool {
	if f.deadA() == 0 || c.SwingA < f.deadA() {
		f.back = meanOver{fromS: c.EndS}
		return false
	}
	if f.back.add(1, c.EndS-max(c.StartS, f.back.fromS+f.back.s)); f.back.s < aliveS {
		return false
	}
	toS := f.back.fromS
	at, how, ok := f.silentSince(toS)
	within := coastS / 2
	if !ok {
		at, within = (f.lostS+toS)/2, (toS-f.lostS)/2
	}
	f.stopLost(turn{atS: at, withinS: within, sure: 0.4,
		evidence: fmt.Sprintf("the clamp was dead from %.2f to %.2f s and no current flowed when its noise was back%s", f.lostS, toS, how)})
	f.warn("clamp-back", fmt.Sprintf("the clamp was alive again at %.2f s and no current flowed: the motor had stopped", toS))
	f.base, f.spread, f.offPeak = c.RMSA, sq(0.1*c.RMSA), c.PeakA
	return true
}
