package run

import (
	"fmt"
	"math"
)

const (
	guestShare = 0.25 // of rated: a smaller step of the current while the motor runs is left to it
	guestUpTo  = 2.0  // times rated, that the current before may be: in a stall no other shows
	guestMost  = 2.5  // times rated: a larger one is the motor's
	guestS     = 0.3  // s on each side of a step that must be steady
	guestPerS  = 0.05 // s from one reading to the next, above which load too may have come in between
	guestEndS  = 0.8  // s after a step at which what a small motor draws to start is over
	sharpShare = 0.6  // of a step that must come within one cycle: nothing that turns can do that
	leapsBy    = 0.8  // and from one reading to the next but one: what turns takes several cycles
	steadyDev  = 0.3  // deviation on each side, as a share of the step
	sameDB     = 2.0  // the sound goes on as it was within this: the motor had no part in it
	offWithin  = 0.25 // a step down is another appliance's end if it leaves what the motor drew within this share
	inPhase    = 0.8  // share of a rectifier's RMS that is in phase with what heats
)

// mostGuestA is what no other appliance draws more than: what a socket carries, where that is more than a motor's load.
func (f *flow) mostGuestA() float64 { return max(guestMost*f.lim.ratedA, socketA) }

// own returns what the motor draws of a whole current now, of whose waveform nothing is known.
func (f *flow) own(totalA float64) float64 { return f.ownBeside(totalA, f.besides()) }

// ownOf returns what the motor draws of a record while other appliances draw so much. The harmonics of a rectifier are
// all the motor's, and what else draws a sine takes from its fundamental only.
func (f *flow) ownOf(c *Current, o others) float64 {
	if f.lim.pulsed && c.Wave && c.FundA > 0 && o.withA >= 0.05*f.lim.ratedA {
		return math.Hypot(max(math.Sqrt(max(sq(c.FundA)-sq(o.behindA), 0))-o.withA, 0), c.rippleA())
	}
	return f.ownBeside(c.RMSA, o)
}

// ownBeside returns what the motor draws of a whole current while other appliances draw so much. The no-load current of
// an induction motor stands a quarter turn behind the voltage, its load current along it; other motors' current is
// mostly along it.
func (f *flow) ownBeside(totalA float64, o others) float64 {
	k := o.withA
	if k < 0.05*f.lim.ratedA {
		return totalA
	}
	if f.lim.induction {
		m := min(f.idleRef(), totalA)
		return math.Hypot(max(math.Sqrt(max(totalA*totalA-sq(m+o.behindA), 0))-k, 0), m)
	}
	c := f.lim.inPhase()
	return max(math.Sqrt(max(totalA*totalA-k*k*(1-c*c), 0))-k*c, 0)
}

func (l *limits) inPhase() float64 {
	if l.pulsed {
		return inPhase
	}
	return 0.97
}

// beside returns what another appliance draws if a motor that draws ownA and it make totalA together.
func (f *flow) beside(totalA, ownA float64) float64 {
	if f.lim.induction {
		m := min(f.idleRef(), ownA, totalA)
		return max(math.Sqrt(totalA*totalA-m*m)-math.Sqrt(ownA*ownA-m*m), 0)
	}
	c := f.lim.inPhase()
	return max(math.Sqrt(max(totalA*totalA-ownA*ownA*(1-c*c), 0))-ownA*c, 0)
}

// together returns what a motor that draws ownA and a heater make.
func (f *flow) together(ownA, withA float64) float64 {
	m := min(f.idleRef(), ownA)
	return math.Hypot(math.Sqrt(ownA*ownA-m*m)+withA, m)
}

// side is the current on one side of a step.
type side struct{ mean, dev, crest float64 }

func sideOf(cs []Current) side {
	var s, q, p float64
	for i := range cs {
		c := &cs[i]
		s += c.RMSA
		q += c.RMSA * c.RMSA
		p += c.PeakA
	}
	n := float64(len(cs))
	m := s / n
	return side{m, math.Sqrt(max(q/n-m*m, 0)), p / s}
}

// edge is a step of the current between two steady stretches: how it was before and after, and in the end.
type edge struct {
	atS                 float64
	leapA               float64 // most that it rose by from one reading to the next but one
	before, after, last side
}

func (e *edge) up() float64 { return e.after.mean - e.before.mean }

// even says whether the current is as even after the step as before it, as no load leaves it.
func (e *edge) even() bool {
	was, is := e.before.dev/e.before.mean, e.after.dev/e.after.mean
	return was < beatsDev && is < min(stillRatio*was, beatsDev)
}

// guest looks for another appliance that is switched on or off while the motor runs. From a waveform the step of the
// fundamental tells; between two readings the current steps, is steady before and after, and nothing is heard of it.
// What it draws in the end shows when the inrush of a small motor is over.
func (f *flow) guest(c Current) {
	if c.Wave {
		f.watchStrikes(c)
		return
	}
	f.misses(c)
	e, ok := f.edge(c)
	switch {
	case !ok:
	case !f.shares() && !f.lim.induction:
		f.pair(e)
	case e.up() < 0 && f.shares():
		if !f.ear.any || f.silently(e.atS) {
			f.guestGone(e.atS, e.before.mean, e.after.mean)
		}
	// Between two readings load too may come, where that drives the current.
	case e.up() > 0 && f.lim.induction && e.before.mean <= guestUpTo*f.lim.ratedA && f.silently(e.atS) && f.guestCame(e):
	case f.lim.induction && f.ear.any:
		f.pair(e)
	}
}

// edge returns the step that lies so far back that it can be judged now, if there is one.
func (f *flow) edge(c Current) (e edge, ok bool) {
	n, per := len(f.recent), c.EndS-c.StartS
	if per <= 0 || per > guestPerS {
		return e, false
	}
	w, end := max(int(guestS/per), 4), max(int(guestEndS/per), 5)
	at := n - end - 2
	if at-w < 0 || f.recent[at-w].StartS < max(f.startS+guestS, f.resumedS, f.guestAtS+guestEndS) {
		return e, false
	}
	step := f.recent[at+2].RMSA - f.recent[at-1].RMSA
	if math.Abs(step) < 0.5*guestShare*f.lim.ratedA {
		return e, false
	}
	e = edge{f.recent[at].midS(), 0, sideOf(f.recent[at-w : at]), sideOf(f.recent[at+2 : at+2+w]), sideOf(f.recent[n-w:])}
	d := math.Abs(e.up())
	sharp := math.Abs(step) >= sharpShare*d && math.Abs(step) <= d/sharpShare
	for i := at - 1; i <= at+1; i++ {
		e.leapA = max(e.leapA, f.recent[i+1].RMSA-f.recent[i-1].RMSA)
	}
	return e, sharp && e.before.dev <= steadyDev*d && e.after.dev <= steadyDev*d
}

// pair looks for a step down that takes back the last step up, neither of them heard: what was on between them was
// another appliance's. Of one of them alone nobody can say so, where load drives the current. An induction motor's load takes
// some readings to come and to go, so there it is enough that one of them was not heard.
func (f *flow) pair(e edge) {
	k := f.beside(max(e.before.mean, e.after.mean), min(e.before.mean, e.after.mean))
	quiet := f.goneOn(e.atS)
	switch {
	case !quiet && !f.lim.induction || k < guestShare*f.lim.ratedA || k > f.mostGuestA():
	case e.up() > 0:
		if k > f.upA && (!f.lim.induction || e.leapA >= leapsBy*e.up()) {
			f.upA, f.upHeard = k, !quiet
		}
	case math.Abs(k-f.upA) < gone*f.upA && (quiet || !f.upHeard):
		f.revised = &revision{fromS: e.atS - mixedS/2, lateA: f.upA}
		f.upA = 0
	}
}

// goneOn says whether what is heard between impacts goes on over an instant as it was.
func (f *flow) goneOn(atS float64) bool {
	was, ok0 := f.ear.medianDB(atS-guestS, atS-0.02)
	is, ok1 := f.ear.medianDB(atS+0.02, atS+guestS)
	return ok0 && ok1 && math.Abs(is-was) <= sameDB
}

// guestCame takes a step up for another appliance's, if it is of a size that one has and load cannot have made it.
func (f *flow) guestCame(e edge) bool {
	rated := f.lim.ratedA
	own := f.own(e.before.mean)
	first, k := f.beside(e.after.mean, own)-f.other, f.beside(e.last.mean, own)-f.other
	least := guestShare * rated
	switch {
	case first < least || k < 0.1*rated || k > guestMost*rated:
		return false
	case e.leapA < leapsBy*e.up(): // what is switched on is there by the next reading, whatever that one holds of before
		return false
	case k > least && e.last.mean < e.before.mean+0.3*e.up(): // it did not stay
		return false
	case !f.ear.follows() && !e.even():
		return false // a load that is not heard either might have come
	}
	f.joined(e.atS, e.before.mean, e.last.mean, k, "and nothing was heard of it")
	return true
}

// joined takes an appliance that draws k more.
func (f *flow) joined(atS, fromA, toA, k float64, why string) {
	f.warn("other-appliance", fmt.Sprintf("current rose from %.1f A to %.1f A at %.2f s %s, %s: another appliance is on the conductor; it is left in the current figures", fromA, toA, atS, f.atOnceBy(), why))
	if !f.shares() {
		f.floorA = f.base
	}
	f.other += k
	f.base += k
	f.guestAtS = atS
	f.switched = append(f.switched, Interval{atS - guestS/2, atS + guestEndS})
}

// left takes an appliance off that draws so much less.
func (f *flow) left(atS, fromA, toA, k float64, why string) {
	f.warn("other-appliance", fmt.Sprintf("current fell from %.1f A to %.1f A at %.2f s %s, %s: the other appliance was switched off", fromA, toA, atS, f.atOnceBy(), why))
	f.other -= k
	f.base -= k
	if f.other < 0.1*f.lim.ratedA {
		f.base, f.other, f.guests = f.floorA, 0, f.guests[:0]
	}
	f.guestAtS = atS
	f.switched = append(f.switched, Interval{atS - guestS/2, atS + guestEndS})
	if f.state == flowFalling {
		f.state, f.slow = flowOn, toA
	}
}

// atOnceBy says within what a step came.
func (f *flow) atOnceBy() string {
	if f.recent[len(f.recent)-1].Wave {
		return "within a cycle"
	}
	return "between two readings"
}

// silently says whether the sound goes on over an instant as it was: neither its usual level nor what impacts add to
// it changes. Where nothing is heard nobody can say so.
func (f *flow) silently(atS float64) bool {
	m0, ok0 := f.ear.medianDB(atS-guestS, atS-0.02)
	m1, ok1 := f.ear.medianDB(atS+0.02, atS+guestS)
	a0, _, _ := f.ear.levels(atS-guestS, atS-0.02)
	a1, _, _ := f.ear.levels(atS+0.02, atS+guestS)
	return ok0 && ok1 && math.Abs(m1-m0) <= sameDB && a1 <= a0+sameDB
}

// guestGone takes a step down beside another appliance for its end, if it leaves what the motor drew.
func (f *flow) guestGone(atS, before, after float64) {
	own := f.own(before)
	if math.Abs(after-f.base) < math.Abs(after-own) {
		return // what is left is the appliance's rather than the motor's
	}
	if math.Abs(after-own) > offWithin*own {
		return // the motor drew more, and cannot go on with less; or some of what is left is the appliance's
	}
	f.left(atS, before, after, f.other, "and the motor was heard to go on")
}

// gapA is the RMS below which not even another appliance's current is left.
func (f *flow) gapA() float64 { return f.base - f.other + (f.onA()-f.base)/2 }

// shares says whether another appliance is known to be on the conductor.
func (f *flow) shares() bool { return f.other > 0.1*f.lim.ratedA }

// appliance takes the current that rose at the pending instant for another appliance's.
func (f *flow) appliance(c Current) {
	why := "no motor was heard: another appliance is on the conductor"
	if f.heardStart(c.EndS) > atOnceDB {
		why = fmt.Sprintf("a sound with it, but not as the current of this motor does (rated %.3g A): another appliance is on the conductor, or full_scale_a, the turns through the clamp or rated_current_a are wrong", f.lim.ratedA)
	}
	f.foreign(c, "current rose to %.1f A at %.2f s", " and "+why)
}

// foreign takes it for that, and says how it came and why.
func (f *flow) foreign(c Current, how, why string) {
	m := f.lately(c)
	f.warn("other-appliance", fmt.Sprintf(how, m, f.candS)+why+"; it is left in the current figures")
	f.takeOthers(m)
	f.state = flowOff
}
