package run

import (
	"slices"

	"quern/rig"
)

// Now is what is known of a session while it goes on. Events of the run at hand may still be taken back
// or moved when more is known; Finish has the last word.
type Now struct {
	State   rig.State
	SinceS  float64     // when it came into that state
	Runs    int         // runs begun
	OnS     float64     // motor-on time of the run at hand, up to the last switching or record
	StartS  float64     // of that run
	Running bool        // current flows
	StopS   float64     // end of the last stretch in which it did; 0: none yet
	Events  []rig.Event // of all runs, in order
	Of      []int       // the run of each event, from 1
}

// Now returns what is known up to an instant. Load is looked for again only if asked to, for it looks
// through the whole run.
func (m *Machine) Now(atS float64, load bool) Now {
	n := m.now(atS, load)
	if f := &m.flow; m.on && f.state == flowFalling && f.unborne == f.candS {
		n.State, n.SinceS, n.Running = rig.Off, f.candS, false
		n.OnS -= atS - f.candS
		n.StopS = f.candS
		n.add([]rig.Event{event(rig.MotorStop, f.candS, f.fellWithin(), 0.5, "the current is gone")}, n.Runs)
	}
	if turns := m.flow.turns; m.flow.held && m.taken < len(turns) {
		t := turns[len(turns)-1]
		if m.cur == nil || m.startsAnew(t) {
			n.Runs++
			n.StartS, n.OnS = t.atS, 0
		}
		n.State, n.SinceS, n.Running = rig.Starting, t.atS, true
		n.OnS += atS - t.atS
		n.StopS = atS
		n.add([]rig.Event{event(rig.MotorStart, t.atS, t.withinS, t.sure, t.evidence)}, n.Runs)
	}
	return n
}

// now is what is known for certain.
func (m *Machine) now(atS float64, load bool) Now {
	n := Now{State: m.grip.state, SinceS: m.grip.spanS, Runs: len(m.runs), Running: m.on}
	for i := range m.runs {
		n.add(m.runs[i].Events, i+1)
		n.StopS = m.runs[i].EndS()
	}
	if m.cur == nil {
		n.State = rig.Off
		return n
	}
	n.Runs++
	n.StartS = m.cur.StartS()
	for i, on := range m.cur.On {
		to := on.ToS
		if m.on && i == len(m.cur.On)-1 {
			to = max(atS, on.FromS)
		}
		n.OnS += to - on.FromS
		n.StopS = to
	}
	if m.on && m.flow.isLost(atS) {
		n.State, n.SinceS = rig.Unknown, m.flow.lostS
	}
	events := slices.Clone(m.grip.events)
	if load {
		f, l := *m.cur, m.load
		f.Events, f.States = nil, slices.Clone(m.grip.spans)
		f.States = append(f.States, rig.Span{State: m.grip.state, FromS: rig.Fig(m.grip.spanS), ToS: rig.Fig(atS)})
		f.On = slices.Clone(f.On)
		l.blocks, l.stretches, l.warnings = slices.Clone(l.blocks), slices.Clone(l.stretches), nil
		if m.on {
			f.On[len(f.On)-1].ToS = atS
			l.stretches[len(l.stretches)-1].ToS = atS
		}
		l.foreign = m.flow.switched
		l.end(&f)
		events = append(events, f.Events...)
		if s := f.States; n.State == rig.NoLoad && len(s) > 0 {
			n.State, n.SinceS = s[len(s)-1].State, s[len(s)-1].FromS.V
		}
	}
	slices.SortStableFunc(events, func(a, b rig.Event) int {
		switch {
		case before(a, b):
			return -1
		case before(b, a):
			return 1
		}
		return 0
	})
	n.add(events, n.Runs)
	return n
}

func (n *Now) add(es []rig.Event, run int) {
	for _, e := range es {
		n.Events = append(n.Events, e)
		n.Of = append(n.Of, run)
	}
}

// Now returns what is known from sound alone.
func (l *Listener) Now() Now {
	p := l.provisional()
	n := Now{State: rig.Off, Runs: len(p.runs), Running: p.on()}
	for i := range p.runs {
		n.add(p.runs[i].Events, i+1)
		n.StartS, n.StopS = p.runs[i].StartS(), p.runs[i].EndS()
		n.OnS = p.runs[i].OnS()
	}
	if n.Running {
		n.State, n.SinceS = rig.Unknown, p.onS
		n.OnS += p.lastS - p.onS
	}
	return n
}
