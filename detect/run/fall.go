package run

import (
	"fmt"
	"math"
	"slices"

	"quern/rig"
)

func (f *flow) fall(c Current, step bool) {
	f.state, f.cand, f.step = flowFalling, c, step
	f.candS = f.offset()
	if f.held {
		f.settle(c) // it has gone: no start follows on top of it
	}
	f.after, f.afterSq, f.hush = meanOver{}, meanOver{}, meanOver{}
	f.fromA = 0
	if n := len(f.recent); n > 4 {
		f.fromA = f.recent[n-5].RMSA
	}
}

func (f *flow) falling(c Current) {
	gap := c.EndS - f.candS
	if f.step {
		f.fallingStep(c, gap)
		return
	}
	if c.SwingA >= f.offA() && (c.Wave || c.RMSA > (f.fromA+f.after.mean())/2) { // readings of what is left stray about any level
		if gap < f.lim.set.OffHoldS || gap < sagHoldS && f.after.mean() > f.base+(f.onA()-f.base)/2 {
			f.state = flowOn // a dip
			f.running(c)
			return
		}
		if f.outlived(c, gap) {
			return
		}
		// It came back before the stop could be told from a dead clamp: a stop and a start.
		f.stop(1, "")
		f.off(c)
		return
	}
	if c.StartS > f.candS {
		f.after.add(c.RMSA, c.EndS-c.StartS)
		f.hush.add(c.SwingA, c.EndS-c.StartS)
	}
	hold := f.lim.set.OffHoldS
	if c.RMSA > f.base+(f.onA()-f.base)/2 {
		hold = sagHoldS // some current still flows: the mains may have sagged
	}
	if gap < hold && (c.Wave || hold == sagHoldS) {
		return
	}
	if hold == sagHoldS && f.forgets(c) {
		return
	}
	f.confirm(c, gap)
}

// confirm tells the stop once it is known that the clamp is not dead: by its noise, or the sound.
func (f *flow) confirm(c Current, gap float64) {
	suspect := f.muted()
	unlearned := f.noise == 0 && f.learnS == 0
	off := !suspect && f.runsOn(c.EndS) // the clamp lives, but no longer round the conductor
	if off {
		f.unborne = f.candS
	}
	if !f.ear.any || !(suspect || unlearned || off) {
		sure := 1.0
		if suspect {
			sure = 0.5
			f.warn("clamp-quiet", fmt.Sprintf("after %.2f s the clamp had less noise than before the start: it may have been unplugged", f.candS))
		}
		if c.RMSA > f.base+(f.onA()-f.base)/2 {
			f.remain(f.lately(c))
		}
		f.stop(sure, "")
		return
	}
	if gap < soundS {
		return // the sound has not had time
	}
	before := Interval{f.candS - 1, f.candS}
	d, ok := f.ear.quieter(before, Interval{max(f.candS+0.1, c.EndS-0.3), c.EndS})
	switch {
	case !ok:
		f.stop(0.5, "; no sound to confirm it")
	case f.hushed(c.EndS) && (!suspect || d >= fellDB), !f.ear.hasRun() && d >= 2*fallDB:
		f.stop(0.9, fmt.Sprintf(", and the sound fell by %.0f dB", d))
		f.doubted = suspect
	case gap > hearS && !suspect && f.fromA > inrushSure*f.lim.ratedA:
		f.stop(0.5, "; a rotor that stood locked was not heard, and noise is left") // the sound that goes on was never its
	case gap > coastS && f.coasts(c.EndS):
		f.stop(0.8, ", and the sound died away as a rotor's that coasts")
		f.doubted = suspect
	case gap > coastS && off && !f.soundsAlike(c.EndS):
		f.stop(0.8, "; something else is as loud as the motor was")
	case gap > coastS:
		f.lose(f.candS)
		f.slipped = off
		f.back = meanOver{fromS: c.EndS}
		how := "dead or unplugged"
		if off {
			how = "no longer round the conductor"
		}
		f.warn("clamp-lost", fmt.Sprintf("current vanished at %.2f s while the sound went on: the clamp is %s; the motor's state is unknown from there", f.candS, how))
	}
}

// straysBy is by how much what other appliances draw is thought to deviate until that is learned, as a share.
const straysBy = 0.02

// takeOthers takes a current that flows while the motor is off for other appliances'.
func (f *flow) takeOthers(a float64) {
	if !f.shares() {
		f.floorA = f.base
	}
	f.base, f.spread, f.offPeak = a, sq(straysBy*a), 1.5*a
	f.other = max(f.base-f.floorA, 0)
}

// remain takes what still flows when the motor has stopped for another appliance's, and tells of it, if it is not what was told of
// when it came.
func (f *flow) remain(a float64) {
	was := f.other
	f.takeOthers(a)
	f.leftA = f.other - was
	told := slices.ContainsFunc(f.warnings, func(w rig.Warning) bool { return w.Code == "other-appliance" })
	if told && f.leftA <= guestShare*f.lim.ratedA {
		return
	}
	f.warn("other-appliance", fmt.Sprintf("%.2f A went on flowing after the motor stopped at %.2f s: another appliance is on the conductor", f.base, f.candS))
}

// hushed says whether it is now quieter than the motor ever was while it ran.
func (f *flow) hushed(nowS float64) bool {
	la, _, ok := f.ear.levels(nowS-soundS, nowS)
	return ok && f.ear.hasRun() && la < f.ear.runDB-fallDB
}

func (f *flow) stop(sure float64, more string) {
	within := f.fellWithin()
	at, a, outlasted := f.outlasted()
	which := fmt.Sprintf("which went %.2f s later", f.candS-at)
	if !outlasted {
		at, a, outlasted = f.faded()
		which = "which had just started"
	}
	if outlasted {
		more = fmt.Sprintf(" onto another appliance's %.1f A, %s%s", a, which, more)
		f.candS = at
	}
	took := !outlasted && f.tookAll()
	if took {
		f.deny()
	}
	to := ""
	if f.after.s > 0 { // else it came back before anything was measured
		to = fmt.Sprintf(" to %.2f A", f.after.mean())
	}
	f.turns = append(f.turns, turn{on: false, atS: f.candS, withinS: within, sure: sure, tookAll: took, leftA: f.leftA,
		evidence: fmt.Sprintf("current fell from %.1f A%s%s", f.before(f.candS), to, more)})
	f.leftA = 0
	f.state, f.stopS, f.doubted = flowOff, f.candS, sure <= 0.5
	f.held = false
	f.decided = f.candS
}

// fellWithin is how far the instant of the pending fall may be off, s.
func (f *flow) fellWithin() float64 {
	if !f.cand.Wave {
		return f.cand.EndS - f.cand.StartS
	}
	return (f.cand.EndS - f.cand.StartS) / 4
}

// outlasted looks back from where all current went for where the motor's had: all that flowed in between was what another
// appliance is known to draw.
func (f *flow) outlasted() (atS, leftA float64, ok bool) {
	if !f.cand.Wave || f.step || !f.shares() {
		return 0, 0, false
	}
	m, n := meanOver{}, 0
	for i := len(f.recent) - 1; i > 0; i-- {
		c := &f.recent[i]
		if c.EndS > f.candS-mixedS/2 {
			continue // it may hold some of the end
		}
		if math.Abs(c.FundA-f.other) > gone*f.other {
			was := f.before(c.midS() - mixedS/2)
			return c.midS(), m.mean(), n >= outlastN && c.midS() > f.decided && c.midS() > f.startS && f.went(was, m.mean())
		}
		m.add(c.FundA, 1)
		n++
	}
	return 0, 0, false
}

// outlastN is how many records in a row must show another appliance alone.
const outlastN = 3

// isLost says whether the clamp was gone at an instant.
func (f *flow) isLost(atS float64) bool {
	if f.state == flowLost && atS >= f.lostS {
		return true
	}
	for _, l := range f.lost {
		if atS >= l.FromS && atS < l.ToS {
			return true
		}
	}
	return false
}

// gone waits for the current, or for the sound to end.
func (f *flow) gone(c Current) {
	if f.missing {
		f.regained(c)
		return
	}
	f.decided = max(f.decided, c.EndS-coastS)
	if c.RMSA > f.onA() {
		f.regain(c, c.EndS, fmt.Sprintf("current came back at %.2f s", c.StartS)) // its first record is not whole
		return
	}
	if !f.slipped && f.alive(c) {
		return
	}
	la, _, ok := f.ear.levels(c.EndS-1, c.EndS)
	if ok && f.lostLA-la >= 2*fallDB && (!f.ear.hasRun() || la < f.ear.runDB-fallDB) {
		at := f.ear.fell(f.lostS, c.EndS, f.stoppedDB())
		f.stopLost(turn{atS: at, withinS: 0.5, sure: 0.6,
			evidence: fmt.Sprintf("the clamp was gone and the sound fell from %.0f to %.0f dB(A)", f.lostLA, la)})
		f.base, f.spread, f.offPeak = c.RMSA, 0, c.PeakA
	}
}

// lose notes that from an instant on, while the motor is on, the clamp shows nothing of it.
func (f *flow) lose(atS float64) {
	f.lostS, f.state, f.slipped = atS, flowLost, false
	f.lostLA, _, _ = f.ear.levels(atS-1, atS)
}

// regain takes a record that shows the motor to be on still; what the clamp showed up to an instant says nothing.
func (f *flow) regain(c Current, toS float64, text string) {
	f.lost = append(f.lost, Interval{f.lostS, toS})
	f.warn("clamp-back", text)
	f.state, f.slow, f.resumedS, f.missing = flowOn, c.RMSA, c.EndS, false
}

// stopLost takes a stop that the clamp did not show.
func (f *flow) stopLost(t turn) {
	f.lost = append(f.lost, Interval{f.lostS, t.atS})
	f.turns = append(f.turns, t)
	f.state, f.stopS, f.decided, f.missing = flowOff, t.atS, t.atS, false
}

// stoppedDB is the level below which a motor that ran when the clamp was lost has stopped: it may have been loud with load
// then, and gone on empty.
func (f *flow) stoppedDB() float64 { return min(f.lostLA, f.ear.runDB) - fallDB }

// silentSince places the instant at which the sound fell after the clamp was lost, if it has by some instant and is kept.
func (f *flow) silentSince(toS float64) (atS float64, how string, ok bool) {
	la, _, ok := f.ear.levels(toS-soundS, toS)
	if !ok || la > f.stoppedDB() || toS-f.lostS >= earS-2 {
		return 0, "; when is not known", false
	}
	return f.ear.fell(f.lostS, toS, f.stoppedDB()), fmt.Sprintf("; the sound fell from %.0f to %.0f dB(A) then", f.lostLA, la), true
}
