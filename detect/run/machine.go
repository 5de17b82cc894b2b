package run

import (
	"fmt"
	"math"
	"sort"

	"quern/config"
	"quern/rig"
)

// Machine finds the runs of one session from its current. How its input is cut never matters; only
// the order of time does: the sound up to an instant comes before the current that ends there.
type Machine struct {
	set   config.Setup
	ear   ear
	flow  flow
	grip  grip
	twin  *twin    // the other reading; nil: there is none
	queue []shared // records not yet known to be on or off
	taken int      // turns of the flow already taken
	on    bool
	onS   float64
	stopS float64
	load  loads
	cur   *Found
	runs  []Found
}

// shared is a record, and what of it is the motor's own.
type shared struct {
	Current
	others others  // what other appliances draw meanwhile
	mostA  float64 // the motor draws no more; 0: not known
	mixed  bool    // it holds the change of that
}

// NewMachine returns a machine for the unit and procedure of a session.
func NewMachine(set config.Setup) *Machine {
	m := &Machine{set: set}
	lim := newLimits(&set)
	m.ear.runDB, m.ear.runTop = math.Inf(1), math.Inf(1)
	m.ear.loudDB = set.Bench.Detect.Heard.RunningAboveDB
	m.flow = flow{lim: lim, ear: &m.ear, stopS: math.Inf(-1)}
	m.grip = grip{lim: lim, ear: &m.ear, state: rig.Off}
	m.load = newLoads(&set, &m.ear)
	return m
}

// Heard takes 10 ms of sound.
func (m *Machine) Heard(h Heard) { m.ear.push(h) }

// Current takes the next record of the current.
func (m *Machine) Current(c Current) {
	m.flow.stands = m.on && m.grip.state == rig.Stalled
	m.flow.push(c)
	m.queue = append(m.queue, shared{Current: c, others: m.flow.besides()})
	if r := m.flow.revised; r != nil {
		m.flow.revised = nil
		if r.came && m.twin == nil {
			m.fork(r.fromS, r.without)
		}
		if r.lateA > 0 {
			if m.disown(r.lateA, r.fromS) {
				m.flow.warn("other-appliance", fmt.Sprintf("%.1f A ended at %.2f s %s, and the motor was heard to go on as before: another appliance is on the conductor, and what it drew is not told as the motor's overload or stall; it is left in the current figures", r.lateA, r.fromS+mixedS/2, m.flow.atOnceBy()))
			}
		}
		if r.denied && m.twin != nil {
			m.believe()
		}
		if !r.came && m.twin != nil && len(m.flow.guests) == 0 {
			m.twin = nil // it went as it had come
		}
		if r.lateA == 0 {
			m.revise(r)
		}
	}
	m.drain()
}

// revise corrects what other appliances draw of the records at hand.
func (m *Machine) revise(r *revision) {
	for i := range m.queue {
		q := &m.queue[i]
		if q.EndS <= r.fromS {
			continue
		}
		q.others = r.others
		if q.StartS < r.toS {
			q.mostA, q.mixed = r.mostA, q.StartS < r.fromS+mixedS
		}
	}
}

// ownA returns what is the motor's of a record.
func (m *Machine) ownA(q *shared) float64 {
	if q.mixed {
		return q.mostA
	}
	own := m.flow.ownOf(&q.Current, q.others)
	if q.mostA > 0 {
		own = min(own, q.mostA)
	}
	return own
}

// DecidedS is the instant up to which it is known whether the motor was on.
func (m *Machine) DecidedS() float64 { return m.flow.decided }

// drain hands on what is decided.
func (m *Machine) drain() {
	decided := m.flow.decided
	n := 0
	for i := range m.queue {
		c := &m.queue[i]
		if c.EndS > decided {
			break
		}
		m.turnsUntil(c.EndS)
		n++
		switch {
		case !m.on && m.cur != nil && !c.Wave && c.StartS < m.stopS && c.RMSA >= m.flow.offA():
			m.cur.take(c.Current) // the stop lies in it: its charge counts, its height says nothing
		case !m.on:
		case c.Wave && c.StartS < m.onS-1e-9:
		default:
			m.running(c.Current, m.ownA(c), c.others)
		}
	}
	m.queue = append(m.queue[:0], m.queue[n:]...)
	m.turnsUntil(decided)
}

// turnsUntil takes the turns of the flow up to an instant.
func (m *Machine) turnsUntil(atS float64) {
	for ; m.taken < len(m.flow.turns) && m.flow.turns[m.taken].atS <= atS; m.taken++ {
		m.turn(m.flow.turns[m.taken])
	}
}

func (m *Machine) turn(t turn) {
	if !t.on {
		if m.twin != nil && t.tookAll {
			m.believe()
		}
		m.twin = nil
		if t.leftA > guestShare*m.flow.lim.ratedA {
			m.disown(t.leftA, t.atS)
		}
		m.grip.stop(t)
		m.cur.started(&m.grip)
		m.on, m.stopS = false, t.atS
		m.cur.On[len(m.cur.On)-1].ToS = t.atS
		m.load.stop(t.atS)
		return
	}
	if m.cur != nil && m.startsAnew(t) {
		m.close()
	}
	if m.cur == nil {
		m.cur = &Found{Inrush: rig.Absent("inrush-not-seen")}
		switch f := &m.flow; {
		case f.noise > 0, f.learnS > 0 && !f.hidden():
			m.cur.NoiseA = rig.Fig(f.noise)
		case f.learnS > 0:
			m.cur.NoiseA = rig.Absent("noise-hidden")
		default:
			m.cur.NoiseA = rig.Absent(rig.BeganRunning)
		}
		m.load.begin()
		m.grip.spans, m.grip.spanS = nil, t.atS
		m.grip.state = rig.Off
	}
	m.on, m.onS = true, t.atS
	m.cur.On = append(m.cur.On, Interval{t.atS, t.atS})
	m.grip.start(t)
	if m.twin != nil {
		m.twin.start(t) // an appliance came while this start was held back
	}
	m.load.restA = max(m.load.restA, m.flow.base)
	m.load.start(t.atS)
}

// startsAnew says whether a start begins another run than the one at hand.
func (m *Machine) startsAnew(t turn) bool { return t.atS-m.stopS > m.set.Procedure.LongestPauseS }

func (m *Machine) running(c Current, ownA float64, beside others) {
	if m.flow.isLost(c.midS()) {
		m.load.n = 0
		m.grip.unseen(c)
		if m.twin != nil {
			m.twin.unseen(c)
		}
		return
	}
	own := c
	own.RMSA = ownA
	m.grip.shared, m.grip.idleA = m.flow.shares(), m.flow.idleRef()
	was := m.grip.state
	m.grip.push(own)
	if m.grip.undone {
		m.grip.undone = false
		m.load.hold(m.grip.spansTo(c.StartS), m.grip.stallS)
	}
	if m.grip.state == rig.Overloaded && was != rig.Overloaded && m.grip.cameLater() {
		m.load.hold(m.grip.spansTo(c.StartS), m.grip.spanS)
	}
	if m.twin != nil {
		m.twin.push(c, &m.flow)
	}
	m.cur.take(c)
	if m.grip.state != rig.Starting {
		m.cur.started(&m.grip)
	}
	state := m.grip.state
	if state == rig.Stalled && m.grip.stallS < m.grip.sinceS+earlyFromS {
		state = rig.Starting // what holds a rotor that never turned has not been fed into a running motor
	}
	m.load.push(c, state, beside.size())
}

// close ends the run at hand.
func (m *Machine) close() {
	f := m.cur
	if f == nil {
		return
	}
	f.MaxA = max(f.MaxA, f.Inrush.V)
	f.Events = append(f.Events, m.grip.events...)
	f.States = append(f.States, m.grip.spans...)
	m.grip.events, m.grip.spans = nil, nil
	m.load.foreign = m.flow.switched
	told := len(m.load.warnings)
	m.load.end(f)
	for i := range m.load.warnings[told:] {
		m.load.warnings[told+i].Run = len(m.runs) + 1
	}
	f.interrupt(m.flow.lost)
	sort.SliceStable(f.Events, func(i, j int) bool { return before(f.Events[i], f.Events[j]) })
	m.runs = append(m.runs, *f)
	m.cur = nil
}

// before orders events by time, and those of one instant as rig.Kinds lists them.
func before(a, b rig.Event) bool {
	if a.AtS.V != b.AtS.V {
		return a.AtS.V < b.AtS.V
	}
	rank := func(k rig.Kind) int {
		for i, x := range rig.Kinds {
			if x == k {
				return i
			}
		}
		return len(rig.Kinds)
	}
	return rank(a.Kind) < rank(b.Kind)
}

// Finish ends the session at endS and returns its runs.
func (m *Machine) Finish(endS float64) []Found {
	m.flow.finish(endS)
	m.drain()
	m.turnsUntil(endS + 1)
	m.close()
	return m.runs
}

// Warnings returns what was wrong with the current.
func (m *Machine) Warnings() []rig.Warning {
	w := append([]rig.Warning(nil), m.flow.warnings...)
	return append(append(w, m.grip.warnings...), m.load.warnings...)
}
