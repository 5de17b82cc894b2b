package run

import (
	"fmt"
	"math"
	"math/cmplx"
)

// The current of a waveform is a vector against the mains, and the currents of all that hangs on the conductor add as
// vectors. A motor that is switched off while a heater flows takes little from the RMS, for its current stands a
// quarter turn behind the heater's; but the whole vector that it drew goes within a cycle, its third harmonic too, and
// what is left stays.

const (
	jumpShare   = 0.4   // of the no-load current, from which a change of the vector within a cycle and a half is a jump
	vectorShare = 0.5   // of the no-load current: a motor that stops takes more away
	leapShare   = 0.6   // share of the change that must come at once
	leftDev     = 0.005 // deviation of what is left, as a share, besides the clamp's noise: no loaded motor draws it so evenly
	leftWithin  = 0.2   // of what the empty motor adds to other appliances' current, within which that alone is left
	noiseStrays = 0.2   // of that noise, by which the RMS of what is left may deviate
	strayTimes  = 2.0   // times the deviation of another current
	judgedS     = 0.15  // s more until a jump has been judged for certain
	thirdLeft   = 0.4   // of the third harmonic of the empty motor, below which it does not run
	thirdLeast  = 4.0   // times its deviation while off, from which that harmonic can be seen to go
	thirdShare  = 0.004 // and of rated
	lagLeast    = 0.9   // rad by which the no-load current lags a heater's at least; a compressor's lags it by less
	lagMost     = 1.8
	idleWithin  = 0.2 // the part of the vector at right angles to what is left is the no-load current within this share
)

// jumped says whether the fundamental has jumped and that has not been judged yet.
func (f *flow) jumped(c Current) bool { return f.jumpS > 0 && c.EndS-f.jumpS < goneS+judgedS }

// gained is by how much the fundamental of a record has gained on mains of a frequency since another one, turns, up to a
// quarter either way: which of its zero crossings is meant cannot be told.
func (c *Current) gained(ref *Current, hz float64) float64 {
	t := c.Turns - ref.Turns - hz*(c.EndS-ref.EndS)
	return t - 0.5*math.RoundToEven(2*t) // math.Remainder(t, 0.5), to the last bit, and much quicker
}

// vector is the fundamental of a record against another one's phase, carried on at the mains frequency, A RMS.
func vector(c, ref *Current, hz float64) complex128 {
	return cmplx.Rect(c.FundA, 2*math.Pi*c.gained(ref, hz))
}

// parted says whether two vectors of some lengths and an angle between them lie at least so far apart.
func parted(a, b, turns, by float64) bool {
	if math.Abs(a-b)+2*math.Pi*math.Abs(turns)*min(a, b) < by {
		return false // the arc is longer than the chord, and mostly short enough: that takes no sine
	}
	return cmplx.Abs(cmplx.Rect(a, 2*math.Pi*turns)-complex(b, 0)) >= by
}

// vectors is the mean vector of some records; ok: all of them were locked onto the mains.
func vectors(cs []Current, ref *Current, hz float64) (mean complex128, ok bool) {
	for i := range cs {
		if !cs[i].Locked || !(cs[i].FundA > 0) {
			return 0, false
		}
		mean += vector(&cs[i], ref, hz)
	}
	return mean / complex(float64(len(cs)), 0), len(cs) > 0
}

// vanished looks goneS back for a jump with which the motor's whole vector went, and tells the stop.
func (f *flow) vanished(c Current) bool {
	if !c.Wave || !(f.state == flowOn || f.state == flowFalling && f.step) || !(c.FundA > 0) {
		return false
	}
	per := (c.EndS - c.StartS) / 2
	n := len(f.recent)
	late := int(goneS / per)
	at := n - late
	if late < 16 || at < 8 || f.recent[at-8].StartS < f.startS {
		return false
	}
	f.jumps(c)
	ref, rest := &f.recent[at-3], f.recent[n-late/2:]
	if r := &f.recent[at+3]; r.Locked && ref.Locked && !parted(r.FundA, ref.FundA, r.gained(ref, 0.5/per), leapShare*vectorShare*f.idleRef()/2) {
		return false // nothing leapt, as nearly always: no need to look more closely
	}
	left := sideOf(rest)
	if left.dev > leftDev*left.mean+f.strays() {
		return false
	}
	// What is left turns as the mains do: that leads back to the jump.
	p, q := &rest[0], &rest[len(rest)-1]
	hz := (q.Turns - p.Turns) / (q.EndS - p.EndS)
	was, ok0 := vectors(f.recent[at-6:at-2], ref, hz)
	is, ok1 := vectors(rest, ref, hz)
	if !ok0 || !ok1 {
		return false
	}
	gone := was - is
	size := cmplx.Abs(gone)
	leap := cmplx.Abs(vector(&f.recent[at+3], ref, hz) - was)
	if cmplx.Abs(is) > cmplx.Abs(was) {
		return false // what goes on flowing had flowed before: it has not stopped, but stands locked
	}
	if size < vectorShare*f.idleRef() || leap < leapShare*size {
		return false
	}
	how := ""
	switch {
	case f.lim.induction && left.mean < f.emptyLeastA():
		how = "what is left is less than it draws empty"
	case f.stands && left.mean < f.lim.set.StallLeaveRatio*f.lim.locked() && f.humGone(f.recent[at].midS(), c.EndS):
		how = "the hum of a rotor that stood went with it"
	case f.showsThird():
		if !f.thirdGone(rest, left.mean) || !f.thirdThere(f.recent[at-6:at-2]) {
			return false
		}
		how = "its third harmonic went with it"
	case f.onlyOthers(left.mean) && f.onlyOthers(f.recent[at+int(0.1/per)].RMSA):
		how = "what is left is what the other appliance drew"
	case f.lagged(gone, is):
		how = "what went stood behind what is left as the no-load current does"
	default:
		return false
	}
	f.cand, f.step = f.recent[f.leapNear(at, ref, hz)], true
	f.candS = f.cand.midS()
	f.after = meanOver{}
	f.after.add(left.mean, 1)
	f.remain(f.lately(c))
	f.stop(0.9, fmt.Sprintf(" onto another appliance's %.1f A: %.1f A went at once, and %s", left.mean, size, how))
	return true
}

// emptyLeastA is what this induction motor draws more than when it turns, A RMS; 0: not known. A run-up ends in what it draws
// empty, which may be less of a generous nameplate than is usual; a rotor that stands does not end at once in that.
func (f *flow) emptyLeastA() float64 {
	usual := leastShare * f.lim.ratedA
	if f.idle == 0 && f.stands {
		return usual
	}
	return min(deepShare*f.idle, usual)
}

// humGone says whether what is heard of a rotor that stands went at an instant, and nothing came for it: one that breaks free runs
// up, and is louder.
func (f *flow) humGone(atS, nowS float64) bool {
	a0, c0, ok0 := f.ear.levels(atS-0.5, atS-0.05)
	a1, c1, ok1 := f.ear.levels(atS+0.2, nowS)
	return ok0 && ok1 && c0-a0 >= 2*fallDB && c0-c1 >= 2*fallDB && a1 <= a0
}

// jumps notes a jump just now: it holds back what is decided, until more flows than other appliances draw.
func (f *flow) jumps(c Current) {
	n := len(f.recent)
	p, q := &f.recent[n-4], &f.recent[n-1]
	switch {
	case q.FundA > f.mostGuestA():
		f.jumpS = 0
	case !p.Locked, !q.Locked, parted(q.FundA, p.FundA, q.gained(p, 1/(c.EndS-c.StartS)), jumpShare*f.idleRef()):
		f.jumpS = c.EndS
	}
}

// leapNear returns the record near one at which the vector changed most.
func (f *flow) leapNear(at int, ref *Current, hz float64) (first int) {
	first = at
	most := 0.0
	for i := at - 4; i <= at+4; i++ {
		if d := cmplx.Abs(vector(&f.recent[i], ref, hz) - vector(&f.recent[i-1], ref, hz)); d > most {
			first, most = i, d
		}
	}
	return first
}

// strays is by how much the clamp's noise makes the RMS of a steady current differ from cycle to cycle. Where some flowed all
// the time and none of that noise was seen alone, it is what that differed by.
func (f *flow) strays() float64 {
	if f.noise == 0 {
		return strayTimes * f.offDev
	}
	return noiseStrays * f.noise
}

// showsThird says whether the motor is known to have a third harmonic of its own.
func (f *flow) showsThird() bool {
	return f.thirdIdle > max(thirdLeast*math.Sqrt(f.thirdVar), thirdShare*f.lim.ratedA)
}

// thirdGone says whether the third harmonic is what it was before the motor started: less than the empty motor's, and
// less of what is left than of the motor's own, which may never have been seen empty.
func (f *flow) thirdGone(cs []Current, leftA float64) bool {
	third := f.thirdOn(cs)
	return f.idle > 0 && third < thirdLeft*f.thirdIdle && third/leftA < thirdLeft*f.thirdIdle/f.idle
}

// thirdThere says whether the third harmonic was the running motor's: what starts with an inrush and has none is no motor
// that stops when that is over.
func (f *flow) thirdThere(cs []Current) bool { return f.thirdOn(cs) > thirdLeft*f.thirdIdle }

// thirdOn is the mean third harmonic on top of what it is while the motor is off, A RMS.
func (f *flow) thirdOn(cs []Current) float64 {
	sum := 0.0
	for i := range cs {
		sum += cs[i].ThirdA
	}
	return math.Abs(sum/float64(len(cs)) - f.third)
}

// onlyOthers says of what is left whether it is what other appliances are known to draw, and the empty motor would show in it.
func (f *flow) onlyOthers(leftA float64) bool {
	return f.shares() && math.Abs(leftA-f.base) < leftWithin*(f.together(f.idleRef(), f.other)-f.other)
}

// lagged says of the vector that went whether it stood behind what is left as an induction motor's does behind a
// heater's, with the motor's no-load current at right angles.
func (f *flow) lagged(gone, left complex128) bool {
	if !f.lim.induction || f.idle == 0 && !f.shares() {
		return false
	}
	lag := -cmplx.Phase(gone / left)
	across := cmplx.Abs(gone) * math.Sin(lag)
	if f.idle == 0 || f.idleBeside { // then it is hardly known
		return lag > lagLeast && lag < lagMost && across > leastShare*f.lim.ratedA && across < idleMost*f.lim.ratedA
	}
	return lag > lagLeast && lag < lagMost && math.Abs(across-f.idle) < idleWithin*f.idle
}
