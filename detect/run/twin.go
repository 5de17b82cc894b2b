package run

import (
	"math"
	"slices"

	"quern/rig"
)

// A step of the current that only what is switched on makes need not be another appliance: a recording may be of a motor
// that is loaded at once. An appliance goes on over the motor's stop; what ends with it in the same cycle was the motor's.
// Until that is known both readings are kept: the grip goes on without the appliance's current, and its twin with it.

// twin is the other reading of a run since an appliance is believed to have come.
type twin struct {
	grip
	others others  // what flows beside the motor, if the appliance is none
	fromS  float64 // when it came
}

// alone is what was known before the first appliance came while the motor ran.
type alone struct {
	base, spread, offPeak, other, floorA float64
	warnings, switched                   int
}

// doubt keeps what is known before an appliance is believed to have come.
func (f *flow) doubt() {
	if len(f.guests) == 0 {
		f.was = alone{f.base, f.spread, f.offPeak, f.other, f.floorA, len(f.warnings), len(f.switched)}
	}
}

// deny takes back that an appliance came while the motor ran.
func (f *flow) deny() {
	w := f.was
	f.base, f.spread, f.offPeak, f.other, f.floorA = w.base, w.spread, w.offPeak, w.other, w.floorA
	f.guests = f.guests[:0]
	f.warnings = f.warnings[:w.warnings]
	f.switched = f.switched[:w.switched]
}

// stillThere is the share of what an appliance and an empty motor would draw together, above which both were there just
// before a stop.
const stillThere = 0.85

// tookAll says of a stop whether what is thought to be other appliances' went in it, all at once. One that came with an
// inrush of its own is one without any doubt.
func (f *flow) tookAll() bool {
	if !f.onlyHeaters() || f.step || f.pending.sizeA > 0 {
		return false
	}
	k := 0.0
	for _, g := range f.guests {
		k += g.withA
	}
	both := f.idleRef() + k
	if f.lim.induction {
		both = math.Hypot(f.idleRef(), k)
	}
	all := f.before(f.candS) - f.was.base
	return f.after.mean() < f.was.base+0.5*k && all > stillThere*both &&
		(all < guestUpTo*f.lim.ratedA+k || f.lastDown.atS < f.guestAtS) // in a stall it may have gone, but within a cycle
}

func (f *flow) onlyHeaters() bool {
	return len(f.guests) > 0 && !slices.ContainsFunc(f.guests, func(g guest) bool { return g.small || g.sure })
}

// fork keeps the other reading from here on.
func (m *Machine) fork(fromS float64, o others) {
	g := m.grip
	g.plateau, g.past = slices.Clone(g.plateau), slices.Clone(g.past)
	g.events, g.spans, g.warnings = slices.Clone(g.events), slices.Clone(g.spans), slices.Clone(g.warnings)
	ear := *g.ear
	g.ear = &ear // it learns nothing for the other
	m.twin = &twin{g, o, fromS}
}

// push takes a record of the running motor.
func (t *twin) push(c Current, f *flow) {
	t.ear.frames = f.ear.frames
	c.RMSA = f.ownOf(&c, t.others)
	t.idleA = f.idleRef()
	t.shared = t.others.size() > 0.1*f.lim.ratedA
	t.grip.push(c)
}

// believe takes the twin's reading for the true one.
func (m *Machine) believe() {
	t := m.twin
	t.ear = &m.ear
	m.grip, m.twin = t.grip, nil
	m.load.hold(t.spansTo(m.flow.decided), t.fromS)
}

// spansTo returns the states so far, the last of them up to an instant.
func (g *grip) spansTo(atS float64) []rig.Span {
	return append(slices.Clone(g.spans), rig.Span{State: g.state, FromS: rig.Fig(g.spanS), ToS: rig.Fig(atS)})
}

// hold marks the blocks from an instant on in which the motor is held or overloaded.
func (l *loads) hold(spans []rig.Span, fromS float64) {
	l.open.held = false // its next record says
	for i := range l.blocks {
		b := &l.blocks[i]
		if b.toS < fromS {
			continue
		}
		b.held = false
		for _, s := range spans {
			if (s.State == rig.Stalled || s.State == rig.Overloaded) && b.toS > s.FromS.V && b.fromS < s.ToS.V {
				b.held = true
			}
		}
	}
}
