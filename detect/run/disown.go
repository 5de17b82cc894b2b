package run

import "quern/rig"

// An appliance that nobody saw come, amid ragged load or with the motor's own inrush, shows when the motor stops and it
// goes on, or when it goes and the motor does. What was taken for an overload while it was on is judged again then.

const (
	leapN     = 4   // records from the crossing on, within which what is switched on is there
	leapLeast = 0.6 // share of it that must have come by then
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

// disown takes back the last overload of this stretch, if it came with an appliance that draws withA, or was there with it
// since the motor started, and would be none without it; and says whether it did.
func (g *grip) disown(f *flow, withA float64) bool {
	o := &g.lasted
	if g.told {
		o = &g.over
	}
	at := -1
	for i, e := range g.events {
		if e.Kind == rig.OverloadStart && e.AtS.V == o.fromS && o.fromS >= g.sinceS {
			at = i
		}
	}
	d := g.lim.set
	with := o.wasA + leapLeast*withA
	if g.lim.induction {
		with = f.together(o.wasA, leapLeast*withA)
	}
	if at < 0 || o.wasA+o.leapA < with && o.fromS > g.sinceS+d.InrushLimitS ||
		f.ownBeside(o.mean.mean(), others{withA: withA}) > d.OverloadLeave*g.lim.ratedA {
		return false
	}
	ended := at+1 < len(g.events) && g.events[at+1].Kind == rig.OverloadEnd
	n := at + 1
	if ended {
		n++
	}
	g.events = append(g.events[:at], g.events[n:]...)
	if !ended {
		g.told, g.overS, g.belowS = false, never, never
		g.state = rig.NoLoad
		return true
	}
	for i := range g.spans {
		if s := &g.spans[i]; s.State == rig.Overloaded && s.FromS.V == o.fromS {
			s.State = rig.NoLoad
		}
	}
	return true
}
