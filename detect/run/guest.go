package run

import (
	"math"
)

const (
	judgedN       = 7.0   // cycles after a step at which it is judged: until then one that is sharper may follow
	spottedN      = 6.0   // cycles after it by which it has been seen
	guestMid      = 0.45  // of rated: a step at least as large that stays may be less sharp
	staysBy       = 0.2   // share of such a step by which the lowest and the middle current may rise by more or less
	staysHalf     = 0.6   // share of a sharp step that must be there to stay
	staysMost     = 1.4   // the same at most: a rotor that locks goes on
	staysRunUp    = 0.3   // share of a step in the run-up, in which a motor's own current only falls, that must be there to stay
	roughShare    = 0.1   // share of what came with a step by which the current may move more after it than before it
	restlessS     = 1.0   // s before a step, that tell what the current does anyway
	restlessMost  = 0.9   // quantile of that which a step must stand out from: the current may have stepped once besides
	restlessTimes = 2.5   // times that, from which a step stands out
	heardDB       = 5.0   // dB by which a load is louder than the motor was without it
	mixedS        = 0.045 // s about a change in which a window may hold some of it
	gone          = 0.15  // share of what another appliance draws within which a step down is its end
	freedDB       = 6.0   // dB by which it is louder at once when a rotor that stood turns again
	inrushLeft    = 0.6   // share of the inrush of a small motor that it draws in the end at most
	lessSharp     = 0.18  // share of a large step down by which the current may move in as long a time before or after it
	goneSmall     = 0.3   // the same of one whose inrush hid how much it draws
)

// revision is what was learned late: between two instants another current than was thought was not the motor's.
type revision struct {
	fromS, toS float64 // the change itself; the motor's own current cannot be told meanwhile
	mostA      float64 // but is no more than this
	others     others  // from there on
	came       bool    // that is when an appliance came
	denied     bool    // none came at all
	lateA      float64 // an appliance that nobody saw come drew so much until then; 0: none
	without    others  // what flows but for it
}

// others is what other appliances draw, A RMS: in phase with the voltage and behind it.
type others struct{ withA, behindA float64 }

// guest is an appliance that came while the motor ran.
type guest struct {
	others
	small bool // started with an inrush
	sure  bool // it cannot have been load: no load is so large
	heard bool // it came with a sound, as load does
}

func (o others) size() float64 { return math.Hypot(o.withA, o.behindA) }

// besides returns what flows beside the motor now.
func (f *flow) besides() others {
	if !f.shares() {
		f.guests = f.guests[:0]
		return others{}
	}
	o := others{withA: f.other}
	for _, g := range f.guests {
		o.withA -= g.size() - g.withA
		o.behindA += g.behindA
	}
	return o
}

// spot looks for a step at the record that lies just far enough back.
func (f *flow) spot(c Current) {
	if s, ok := f.struck(); ok && s.sizeA > min(guestShare*f.lim.ratedA, f.leastGuestA()) {
		if p := &f.pending; p.sizeA > 0 && s.atS-p.atS < 1.5*(c.EndS-c.StartS) {
			if s.rest < p.rest {
				*p = s // the same, seen whole
			}
		} else if p.sizeA == 0 || s.sizeA > p.sizeA {
			*p = s
		}
	}
}

// watchStrikes judges what has been spotted.
func (f *flow) watchStrikes(c Current) {
	f.spot(c)
	f.misses(c)
	p := f.pending
	age := c.EndS - p.atS
	switch {
	case p.sizeA == 0 || age < judgedN*(c.EndS-c.StartS):
	case f.rises(p):
		f.judgeUp(c, p, age)
	case f.shares() || age > sagS || f.whose(p.turned()) == motors:
		f.judgeDown(p)
	default: // of an appliance that nobody saw come, and the mains may have dipped
		f.lastDown = p
	}
}

// leastGuestA is half of what the smallest appliance draws that came while the motor ran.
func (f *flow) leastGuestA() float64 {
	a := math.Inf(1)
	for _, g := range f.guests {
		a = min(a, 0.5*g.size())
	}
	return a
}

// rises says whether what stepped was switched on: the current in phase with the voltage grew.
func (f *flow) rises(s strike) bool {
	rad := s.rad
	if f.lim.induction {
		rad -= math.Asin(min(f.idleRef()/s.wasA, 1))
	}
	return math.Cos(rad) > 0
}

// drop lets go of the step that is being judged.
func (f *flow) drop() { f.pending = strike{} }

// judgeUp takes a step up for an appliance. What loads the motor grows its harmonics with it, if it has any to speak of;
// else the step must be sharp and stay, where raggedness comes and goes and a load comes in bits.
func (f *flow) judgeUp(c Current, s strike, age float64) {
	whose := f.whose(s)
	if f.lim.pulsed && whose == heaters {
		s.sizeA *= 1 - max(s.growing, 0) // what came with harmonics was the motor's
	}
	rated := f.lim.ratedA
	sure := s.rest <= sharp || whose == smalls && s.rest <= 2*sharp
	switch {
	case f.dipped(s), whose == motors, s.sizeA < restlessTimes*f.restless(s.atS), s.sizeA < guestShare*rated, s.sizeA > f.mostGuestA(), !sure && s.sizeA < guestMid*rated:
		f.drop()
		return
	case whose == heaters && (!f.lim.induction || s.sizeA > guestMost*rated && s.rest <= sharp): // no load is as large
		f.came(s, guest{others: others{withA: s.sizeA}, sure: f.lim.pulsed || s.sizeA > guestMost*rated}, 1.5*(c.EndS-c.StartS))
		return
	case age < guestEndS:
		return
	}
	f.drop()
	low, mid := f.stayed(s, guestEndS)
	heard := f.lim.induction && s.atS > f.startS+guestEndS && (f.ear.rose(s.atS, guestEndS) > heardDB || f.ear.leapt(s.atS, guestEndS))
	switch {
	case f.lim.induction && whose == heaters && f.plain(s, min(low, mid)):
		f.came(s, guest{others: others{withA: s.sizeA}, heard: heard}, 1.5*(c.EndS-c.StartS))
		return
	case heard: // what loads it was heard to come
		return
	}
	if whose == heaters {
		if f.lim.induction && f.roughened(s, 0.05, s.sizeA) {
			return
		}
		least := math.Inf(1)
		switch {
		case sure:
			least = staysHalf
		case s.atS < f.startS+settledS:
			least = staysRunUp
		}
		within := func(low, mid float64) bool { return math.Abs(low-1) < staysBy && math.Abs(mid-1) < staysBy }
		if least < min(low, mid) && max(low, mid) < staysMost || within(low, mid) {
			f.came(s, guest{others: others{withA: s.sizeA}}, 1.5*(c.EndS-c.StartS))
			return
		}
		if f.idle > 0 {
			return
		}
	}
	if !sure {
		return
	}
	if g, ok := f.small(c, s); ok && !(f.lim.induction && f.roughened(s, guestEndS-guestS, g.size())) {
		f.came(s, g, guestEndS)
	}
}

// restless returns by how much the fundamental has changed over as long as a step takes, again and again in the second
// before it, A RMS: what grinds raggedly makes such steps all the time, and the larger ones of them are no appliance's.
func (f *flow) restless(atS float64) float64 {
	const step = 3 // records: one before a step to one after it
	cs := between(f.recent, max(atS-restlessS, f.startS+settledS), atS-mixedS)
	var by []float64
	for i := step; i < len(cs); i++ {
		by = append(by, math.Abs(cs[i].FundA-cs[i-step].FundA))
	}
	return max(quantile(by, restlessMost), 0)
}

// dipped says whether a step up only brings back what a step down took just before: the mains had dipped.
func (f *flow) dipped(s strike) bool {
	d := &f.lastDown
	return s.atS-d.atS < sagS && math.Abs(f.firstFrom(s.atS).RMSA-d.wasA) < staysBy*d.wasA
}

// came takes a strike for another appliance's.
func (f *flow) came(s strike, g guest, overS float64) {
	f.drop()
	f.doubt()
	without, is := f.besides(), f.firstFrom(s.atS).RMSA
	if m := f.idleRef(); f.lim.induction && is > m { // nor can it draw more than the no-load current leaves of what flows
		g.withA = min(g.withA, max(math.Sqrt(is*is-m*m)-without.withA, 0.5*g.withA))
	}
	f.joined(s.atS, s.wasA, is, g.size(), "as only what is switched on does")
	f.guests = append(f.guests, g)
	f.revised = &revision{fromS: s.atS - mixedS/2, toS: s.atS + overS, mostA: s.ownA, others: f.besides(), came: true, without: without}
}

// firstFrom returns the first record that begins after an instant.
func (f *flow) firstFrom(atS float64) *Current {
	for i := range f.recent {
		if f.recent[i].StartS > atS {
			return &f.recent[i]
		}
	}
	return &f.recent[len(f.recent)-1]
}

// goesOn says whether it is as loud just after an instant as just before it.
func (f *flow) goesOn(atS float64) bool {
	by, ok := f.grows(atS)
	return ok && by > -sameDB
}

// grows is by how much it is louder just after an instant than just before it, dB, whatever strikes the cutters there.
func (f *flow) grows(atS float64) (byDB float64, ok bool) {
	was, ok0 := f.ear.medianDB(atS-guestS, atS-0.01)
	is, ok1 := f.ear.medianDB(atS+0.01, atS+0.1)
	return is - was, ok0 && ok1
}

// settledS is how far back it is known which current is not the motor's.
func (f *flow) settledS(c Current) float64 {
	lag := c.EndS - c.StartS
	if c.Wave {
		lag *= spottedN
	}
	at := c.StartS - lag
	if f.pending.sizeA > 0 {
		at = min(at, f.pending.atS-(c.EndS-c.StartS))
	}
	return at
}
