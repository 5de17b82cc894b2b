package run

import (
	"math"
	"slices"

	"quern/rig"
)

// An appliance that nobody saw come, amid ragged load or with the motor's own inrush, shows when the motor stops and it
// goes on, or when it goes and the motor does. What was taken for an overload or a stall while it was on is judged again then,
// and what it moved the current by is no load.

const (
	leapN     = 4   // records from the crossing on, within which what is switched on is there
	leapLeast = 0.6 // share of it that must have come by then

	thereShare = 0.95 // of what an appliance and an empty motor draw, that flows at least while both are there
)

// stood is a current above the overload ratio.
type stood struct {
	fromS float64
	wasA  float64 // just before it
	leapA float64 // and how much higher it was soon after; 0: not known yet
	n     int
	mean  meanOver
	sure  float64 // that it is the motor's
}

// follow keeps how an overload came, and what it draws.
func (g *grip) follow(c Current) {
	o := &g.over
	if o.fromS != g.overS {
		*o = stood{fromS: g.overS, wasA: g.prev.RMSA, sure: sureOver}
		if n := len(g.past); n > 2 {
			o.wasA = g.past[n-3].RMSA // the window before the crossing holds some of it
		}
	}
	if o.n++; o.n <= leapN {
		o.leapA = max(o.leapA, c.RMSA-o.wasA)
	}
	o.mean.add(c.RMSA, 1)
}

// cameLater says of an overload, which is told when it has lasted, whether the motor ran with less before, so that it is load from
// its beginning. What has drawn as much ever since it started may be an empty motor before a clamp that shows too much.
func (g *grip) cameLater() bool {
	n := len(g.spans)
	return n > 0 && g.spans[n-1].State == rig.NoLoad && g.spans[n-1].ToS.V-g.spans[n-1].FromS.V > blockS
}

// Without sound nobody can tell an overload that another appliance would show as well.
const (
	sureOver   = 0.95
	sureAtOnce = 0.6 // one that came between two readings
	sureBegan  = 0.5 // one that flowed when the recording began
)

// doubtOver settles how sure the overload at hand is the motor's, and says why not.
func (g *grip) doubtOver(c Current) string {
	o := &g.over
	switch {
	case g.ear.any:
	case g.began && o.fromS < g.sinceS+g.lim.set.InrushLimitS:
		o.sure = sureBegan
		return "; it flowed when the recording began, and no sound was recorded: it may be another appliance's"
	case !c.Wave && o.leapA > leapLeast*(o.mean.mean()-o.wasA):
		o.sure = sureAtOnce
		return "; it came at once, and no sound was recorded: it may be another appliance's"
	}
	return ""
}

// disown takes back what was told of the motor while an appliance was there that drew withA until an instant, of which is
// known only now, and would not have been told without it. It says whether there was any such thing.
func (m *Machine) disown(withA, atS float64) (undone bool) {
	f, g, l := &m.flow, &m.grip, &m.load
	if !m.on {
		return false
	}
	d, on := f.lim.set, l.stretches[len(l.stretches)-1].FromS
	sinceS, cameS := l.came(f, withA, atS)
	if f.idle > idleMost*f.lim.ratedA {
		cameS = on // no motor draws as much without load
	}
	for i := range l.blocks {
		if b := &l.blocks[i]; b.fromS >= sinceS && b.toS <= atS {
			b.guestA += float32(withA)
		}
	}
	for i := len(g.events) - 1; i >= 0 && g.events[i].AtS.V >= g.sinceS; i-- {
		level, leave, hold, dips, end := d.OverloadRatio*f.lim.ratedA, d.OverloadLeave*f.lim.ratedA, d.OverloadHoldS, dipS, rig.OverloadEnd
		switch g.events[i].Kind {
		case rig.StallStart:
			level, leave, hold, dips, end = d.StallRatio*g.refA(), d.StallLeaveRatio*g.refA(), d.StallHoldS, sagHoldS, rig.StallEnd
		case rig.OverloadStart:
		default:
			continue
		}
		fromS, toS, ended := g.events[i].AtS.V, atS, 0
		for j := i + 1; j < len(g.events) && ended == 0; j++ {
			if g.events[j].Kind == end {
				toS, ended = g.events[j].AtS.V, j
			}
		}
		thereS := cameS
		if fromS < on+d.InrushLimitS {
			thereS = on // it came with the inrush
		}
		if thereS < toS && l.exceeds(f, Interval{fromS, toS}, thereS, withA, level, leave, dips) < hold {
			g.undo(i, ended)
			undone = true
		}
	}
	f.switched = append(f.switched, Interval{atS - guestS/2, atS + guestS/2})
	l.hold(g.spansTo(atS), g.sinceS)
	return undone
}

// undo takes back the overload or stall that the i-th event began and another one ended; 0: that has not ended yet.
func (g *grip) undo(i, ended int) {
	for j := range g.spans {
		if s := &g.spans[j]; s.FromS == g.events[i].AtS && (s.State == rig.Overloaded || s.State == rig.Stalled) {
			s.State = rig.NoLoad
		}
	}
	if ended == 0 {
		g.told, g.overS, g.belowS, g.highS = false, never, never, never
		g.state = rig.NoLoad
	} else {
		g.events = slices.Delete(g.events, ended, ended+1)
	}
	g.events = slices.Delete(g.events, i, i+1)
}

// came returns since when an appliance that drew withA until an instant can have been there, for more flowed all the time than
// it draws beside an empty motor, and when since then the current first leapt by as much; +Inf: never.
func (l *loads) came(f *flow, withA, atS float64) (sinceS, leaptS float64) {
	least := thereShare * f.together(min(f.idleRef(), f.lim.priorIdle), withA)
	on := l.stretches[len(l.stretches)-1].FromS
	sinceS, leaptS = atS, math.Inf(1)
	for i := len(l.blocks) - 1; i >= 2 && l.blocks[i-1].fromS >= on; i-- {
		b := &l.blocks[i]
		if b.toS > atS {
			continue
		}
		if float64(b.meanA) < least {
			break
		}
		sinceS = b.fromS
		was, with := float64(min(l.blocks[i-2].meanA, l.blocks[i-1].meanA)), leapLeast*withA // one of them may hold some of it
		if f.lim.induction {
			with = f.together(was, with) - was
		}
		if is := float64(max(b.meanA, l.blocks[min(i+1, len(l.blocks)-1)].meanA)); is > was+with {
			leaptS = b.fromS
		}
	}
	return sinceS, leaptS
}

// exceeds returns for how long at a time the motor drew more than a level and did not leave it for longer than a dip, if an
// appliance that draws withA was there from an instant on.
func (l *loads) exceeds(f *flow, in Interval, thereS, withA, levelA, leaveA, dipS float64) (mostS float64) {
	var is Interval
	for i := range l.blocks {
		b := &l.blocks[i]
		if b.toS <= in.FromS || b.fromS >= in.ToS {
			continue
		}
		own := float64(b.meanA)
		if b.toS > thereS {
			own = f.ownBeside(own, others{withA: withA})
		}
		switch {
		case own < leaveA:
			continue
		case is.ToS == 0 || b.fromS > is.ToS+dipS+blockS/2:
			if own < levelA {
				continue
			}
			is.FromS = max(b.fromS, in.FromS)
		}
		is.ToS = min(b.toS, in.ToS)
		mostS = max(mostS, is.ToS-is.FromS)
	}
	return mostS
}
