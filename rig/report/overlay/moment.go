package overlay

import (
	"math"
	"strings"

	"quern/rig"
	"quern/rig/report"
)

// moment is what one frame says.
type moment struct {
	empty  bool // before the session began
	word   string
	beside string // small, after the word
	lines  int    // below the word: 1 or 2 where it is grave
	clock  string
	of     string // small, after the clock
	reads  []read
	band   *band
}

// story is a session worked out, so that what a frame says is only looked up.
type story struct {
	Scene
	uses    []use
	states  []change
	level   steady
	current steady
}

func newStory(sc Scene) *story {
	sc.Level.settle()
	sc.Current.settle()
	s := &story{Scene: sc, uses: usesOf(&sc), states: calm(statesOf(sc.Result.Runs))}
	s.level, s.current = newSteady(&sc.Level, 0), newSteady(&sc.Current, 1)
	return s
}

// use returns the run that is shown at an instant: the last that has begun; before all, the first.
func (s *story) use(atS float64) *use {
	var out *use
	for i := range s.uses {
		if out == nil || s.uses[i].startS <= atS {
			out = &s.uses[i]
		}
	}
	return out
}

// at returns what the frame of an instant says.
func (s *story) at(atS float64) moment {
	if atS < 0 || math.IsNaN(atS) {
		return moment{empty: true}
	}
	var m moment
	recorded := atS <= s.EndS
	if recorded {
		m.say(stateAt(s.states, atS))
	}
	u := s.use(atS)
	if u != nil {
		m.clock = absent
		if atS >= u.startS {
			m.clock = clockWords(u.used(atS))
		}
		if u.limitS > 0 {
			m.of = "of " + clockWords(u.limitS)
			if atS < u.startS || u.used(atS) <= u.limitS {
				// nothing to add
			} else {
				m.of += ", passed"
			}
		}
		m.band = s.band(u, atS)
	}
	if u != nil && atS >= u.endS {
		if v, ok := u.final.RunTimeS.Value(); ok {
			m.clock = report.TimeWords(v)
		}
		m.reads = u.final.reads()
		return m
	}
	if recorded {
		if !s.Level.Empty() {
			m.reads = append(m.reads, read{"Level, dB(A)", s.level.text(atS)})
		}
		if !s.Current.Empty() {
			m.reads = append(m.reads, read{"Current, A", s.current.text(atS)})
		}
	}
	return m
}

// say puts a state into words, as on every page.
func (m *moment) say(s rig.State) {
	switch s {
	case rig.NoLoad:
		m.word = "No load"
	case rig.Tripped:
		m.word, m.beside, m.lines = "Tripped", "(presumed)", 2
	case rig.Stalled:
		m.word, m.lines = "Stalled", 2
	case rig.Overloaded:
		m.word, m.lines = "Overloaded", 1
	case "":
		m.word = "Unknown"
	default:
		m.word = strings.ToUpper(string(s[:1])) + string(s[1:])
	}
}

// The axis of a ribbon leaves room before the first start and behind the limit, as shares of the whole.
const (
	leadShare = 0.03
	roomShare = 0.04
	lullS     = 3.0 // s; a lull within load that was shorter shows by the thickness alone
)

// band is the ribbon of a run at an instant, on its axis.
type band struct {
	use        *use
	fromS, toS float64 // at the left edge and at the right
	nowS       float64 // up to here it has come
	limitS     float64 // where the limit stands; infinite: nowhere
	events     int     // so many of the run's events have happened
	lulls      int     // so many lulls within load are over
}

// band lays the axis. Like the page it knows nothing of what is to come: it widens as a pause moves the
// limit on, or as the run goes on past it.
func (s *story) band(u *use, atS float64) *band {
	b := &band{use: u, nowS: min(atS, u.endS), limitS: u.limitAt(min(atS, u.endS))}
	wide := max(b.nowS-u.startS, 1)
	if u.limitS > 0 {
		wide = max(wide, b.limitS-u.startS)
	} else {
		wide = max(wide, 60)
	}
	b.fromS, b.toS = u.startS-leadShare*wide, u.startS+wide*(1+roomShare)
	for _, e := range u.run.Events {
		if b.happened(e) {
			b.events++
		}
	}
	for i := range u.run.States {
		if to, ok := lull(u.run.States, i); ok && to <= atS {
			b.lulls++
		}
	}
	return b
}

// happened tells that an event is not still to come.
func (b *band) happened(e rig.Event) bool {
	at, ok := e.AtS.Value()
	return ok && at <= b.nowS
}

// lull says whether a span is a short one of no load between two of load, and when it ends.
func lull(all []rig.Span, i int) (toS float64, ok bool) {
	if i == 0 || i+1 >= len(all) || all[i].State != rig.NoLoad || all[i-1].State != rig.Loaded || all[i+1].State != rig.Loaded {
		return 0, false
	}
	from, okFrom := all[i].FromS.Value()
	to, okTo := all[i].ToS.Value()
	return to, okFrom && okTo && to-from < lullS
}

// stretch is a span of the ribbon.
type stretch struct {
	state      rig.State
	fromS, toS float64 // of the whole, whether it is over or not
}

// stretches returns what the ribbon has shown up to now, joined where a lull is over.
func (b *band) stretches() []stretch {
	u := b.use
	out := []stretch{{rig.Off, math.Inf(-1), u.startS}}
	say := func(s rig.State, from, to float64) {
		switch last := &out[len(out)-1]; {
		case from >= b.nowS && from > u.startS && s != rig.Tripped || to <= from:
		case last.state == s:
			last.toS = to
		default:
			out = append(out, stretch{s, from, to})
		}
	}
	at := u.startS
	for i, s := range u.run.States {
		from, ok := s.FromS.Value()
		to, okTo := s.ToS.Value()
		if !ok || !okTo || from > b.nowS {
			continue
		}
		if from > at {
			say(rig.Unknown, at, from)
		}
		state := s.State
		if end, is := lull(u.run.States, i); is && end <= b.nowS {
			state = rig.Loaded
		}
		say(state, from, to)
		at = max(at, to)
	}
	if at < u.endS && b.nowS > at {
		say(rig.Unknown, at, u.endS)
	}
	if b.nowS >= u.endS && after(u.run) == rig.Tripped {
		say(rig.Tripped, u.endS, math.Inf(1))
	}
	return out
}

// load returns the load over a stretch, 0 to 1; NaN: not known.
func (s *story) load(u *use, fromS, toS float64) float64 {
	if u.mostA <= 0 {
		return math.NaN()
	}
	return (s.Current.mean(fromS, toS) - u.idleA) / u.mostA
}
