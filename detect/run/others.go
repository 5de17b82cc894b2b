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
	guestEndS  = 0.8  // s after a step at which what a small motor draws to start is over
	sharpShare = 0.6  // of a step that must come within one cycle: nothing that turns can do that
	steadyDev  = 0.3  // deviation on each side, as a share of the step
	sameDB     = 2.0  // the sound goes on as it was within this: the motor had no part in it
	sineCrest  = 1.85 // peak over RMS below which a sine has come to a rectifier's pulses
	offWithin  = 0.25 // a step down is another appliance's end if it is its size within this share
	inPhase    = 0.8  // share of a rectifier's RMS that is in phase with what heats
)

// own returns what the motor draws of a whole current while another appliance draws f.other, as a kettle does,
// in phase with the voltage. The no-load current of an induction motor stands a quarter turn behind that, its
// load current along it; other motors' current is mostly along it.
func (f *flow) own(totalA float64) float64 {
	k := f.other
	if k < 0.1*f.lim.ratedA {
		return totalA
	}
	if f.lim.induction {
		m := min(f.idleRef(), totalA)
		return math.Hypot(max(math.Sqrt(totalA*totalA-m*m)-k, 0), m)
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

// side is the current on one side of a step.
type side struct{ mean, dev, crest float64 }

func sideOf(cs []Current) side {
	var s, q, p float64
	for _, c := range cs {
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
	at, w               int // the two records from at on hold it; so many were looked at on each side
	atS                 float64
	before, after, last side
}

func (e *edge) up() float64 { return e.after.mean - e.before.mean }

// guest looks for another appliance that is switched on or off while the motor runs: the current steps within a
// cycle, is steady before and after, and nothing is heard of it. What it draws in the end shows when the inrush of a
// small motor is over.
func (f *flow) guest(c Current) {
	e, ok := f.edge(c)
	switch {
	case !ok:
	case e.up() < 0:
		if !f.ear.any || f.silently(e.atS) {
			f.guestGone(e.atS, e.before.mean, e.after.mean)
		}
	case e.before.mean > guestUpTo*f.lim.ratedA || !f.silently(e.atS):
	case !c.Wave && !f.lim.induction: // between two readings load too may come that drives the current of such a motor
	default:
		f.guestCame(c, e)
	}
}

// edge returns the step that lies so far back that it can be judged now, if there is one.
func (f *flow) edge(c Current) (e edge, ok bool) {
	n, per := len(f.recent), c.EndS-c.StartS
	if c.Wave {
		per /= 2
	}
	if per <= 0 {
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
	e = edge{at, w, f.recent[at].midS(), sideOf(f.recent[at-w : at]), sideOf(f.recent[at+2 : at+2+w]), sideOf(f.recent[n-w:])}
	d := math.Abs(e.up())
	sharp := math.Abs(step) >= sharpShare*d && math.Abs(step) <= d/sharpShare
	return e, sharp && e.before.dev <= steadyDev*d && e.after.dev <= steadyDev*d
}

// guestCame takes a step up for another appliance's, if it is of a size that one has and load cannot have made it.
func (f *flow) guestCame(c Current, e edge) {
	rated, rectified := f.lim.ratedA, f.lim.pulsed && c.Wave
	own := f.own(e.before.mean)
	first, k := f.beside(e.after.mean, own)-f.other, f.beside(e.last.mean, own)-f.other
	least := guestShare * rated
	switch {
	case first < least || k < 0.1*rated || k > guestMost*rated || e.last.mean < e.before.mean:
		return
	case k > least && e.last.mean < e.before.mean+0.3*e.up(): // it did not stay
		return
	case rectified && e.after.crest > sineCrest:
		return
	case !(rectified && e.after.crest < e.before.crest-crestStep) && !f.turned(e.at, e.w, own, k) && !f.ear.follows():
		return // a load that is not heard either might have come
	}
	f.warn("other-appliance", fmt.Sprintf("current rose from %.1f A to %.1f A at %.2f s within a cycle and nothing was heard of it: another appliance is on the conductor; it is left in the current figures", e.before.mean, e.last.mean, e.atS))
	if !f.shares() {
		f.floorA = f.base
	}
	f.other += k
	f.base += k
	f.guestAtS = e.atS
	f.switched = append(f.switched, Interval{e.atS - guestS/2, e.atS + guestEndS})
}

// turned says whether the phase of an induction motor's current jumped at a step as a current in phase with the
// voltage makes it jump: what loads the motor turns it as far, but over several cycles.
func (f *flow) turned(at, w int, ownA, otherA float64) bool {
	before, after := f.recent[at-w:at], f.recent[at+2:at+2+w/3]
	if !f.lim.induction || len(after) < 3 {
		return false
	}
	for _, c := range [][]Current{before, after} {
		for i := range c {
			if !c[i].Locked {
				return false
			}
		}
	}
	p, q := &before[0], &before[len(before)-1]
	hz := (q.Turns - p.Turns) / (q.EndS - p.EndS)
	r := &after[len(after)-1]
	jump := math.Remainder(r.Turns-q.Turns-hz*(r.EndS-q.EndS), 0.5)
	m := min(f.idleRef(), ownA)
	load := math.Sqrt(ownA*ownA - m*m)
	want := math.Atan2(load+f.other+otherA, m) - math.Atan2(load+f.other, m)
	return math.Abs(jump)*2*math.Pi > want/2
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

// guestGone takes a step down, if it is of the size of what was switched on before.
func (f *flow) guestGone(atS, before, after float64) {
	if f.other < 0.1*f.lim.ratedA {
		return
	}
	own := f.own(before)
	if d := f.beside(before, after); math.Abs(d-f.other) > offWithin*f.other && math.Abs(after-own) > offWithin*own {
		return
	}
	f.warn("other-appliance", fmt.Sprintf("current fell from %.1f A to %.1f A at %.2f s within a cycle and the motor was heard to go on: the other appliance was switched off", before, after, atS))
	f.base = f.floorA
	f.other, f.guestAtS = 0, atS
	f.switched = append(f.switched, Interval{atS - guestS/2, atS + guestEndS})
	if f.state == flowFalling && f.step {
		f.state, f.slow = flowOn, after
	}
}

// gapA is the RMS below which not even another appliance's current is left.
func (f *flow) gapA() float64 { return f.base - f.other + (f.onA()-f.base)/2 }

// shares says whether another appliance is known to be on the conductor.
func (f *flow) shares() bool { return f.other > 0.1*f.lim.ratedA }
