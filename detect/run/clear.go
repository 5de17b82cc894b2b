package run

import (
	"fmt"

	"quern/rig"
)

// clearLeastS of a motor running with a clear chamber, before the last stop, make it certain, s.
const clearLeastS = 1.0

// end tells load_start, load_end and the loaded stretches of a run, and its no-load current.
func (l *loads) end(f *Found) {
	l.broughtUp(f)
	t, ok := l.learn()
	if !ok {
		f.IdleA = rig.Absent("no-load-not-seen")
		l.warn("no-load-not-seen", fmt.Sprintf("no calm second without load was found in the run from %.1f s: no-load current, load_start and load_end are not known", f.StartS()))
		return
	}
	if f.IdleA = rig.Fig((t.amp0 + t.amp1) / 2); t.shifted {
		f.IdleA = rig.Fig(min(t.amp0, t.amp1)) // one of them holds what was not the motor's
	}
	if low := f.IdleA.V; len(l.foreign) == 0 && t.highA > l.far()*low {
		l.warn("flat-and-unheard", fmt.Sprintf("current stood as evenly at %.1f A as at %.1f A without load, and nothing was heard of it: taken for another appliance's, not for load; a waveform of the current would tell which it was", t.highA, low))
	}
	load := l.mask(&t)
	l.tell(f, &t, load)
}

// lasting says whether load goes on after a block: material that goes in does not leave at once.
func lasting(load []bool, i int) bool {
	n := 0
	for j := i; j < min(i+10, len(load)); j++ {
		if load[j] {
			n++
		}
	}
	return n >= 4
}

// tell turns the mask into events and states.
func (l *loads) tell(f *Found, t *template, load []bool) {
	first, last := -1, -1
	for i, b := range load {
		if b {
			if first < 0 && lasting(load, i) {
				first = i
			}
			last = i
		}
	}
	heard := t.la0 == t.la0 && l.hears(last)
	evidence := "current and its raggedness"
	sure := 0.7
	if t.la0 == t.la0 {
		evidence, sure = "current, its raggedness and the impacts in the sound", 0.9
	}
	var k likely
	if first >= 0 {
		k = l.likely()
		b := l.blocks[first]
		within, share := l.reach(k.first, func(b *block) float64 { return b.fromS }, b.fromS, max(2*blockS, l.rowS))
		f.Events = append(f.Events, event(rig.LoadStart, b.fromS, within, sure*share,
			fmt.Sprintf("%s left the empty chamber's (%.2f A)", evidence, t.amp(b.fromS))))
	}
	stop := f.EndS()
	switch {
	case first < 0:
	case l.endedS > 0 && stop-l.endedS >= clearLeastS:
		l.warn("not-clear", fmt.Sprintf("the clamp's recording ended at %.2f s, before the motor stopped: when the chamber was clear is not known", l.endedS))
	case l.blocks[len(load)-1].toS-l.blocks[last].toS < clearLeastS-1e-6:
		l.warn("not-clear", fmt.Sprintf("the motor stopped at %.1f s with the chamber still loaded, or too soon after to tell: a motor that runs on for some seconds once nothing is heard in it shows when it was clear", stop))
	default:
		if !heard {
			evidence, sure = "current and its raggedness", 0.7
		}
		at := l.blocks[last].toS
		within, share := l.reach(k.last, func(b *block) float64 { return b.toS }, at, max(0.5, l.rowS))
		f.Events = append(f.Events, event(rig.LoadEnd, at, within, sure*share,
			fmt.Sprintf("%s came back to the empty chamber's for the last %.1f s that the motor was on", evidence, f.onAfterS(at))))
		if !heard && l.induction {
			l.warn("load-end-by-current", "load_end comes from the current alone: on an induction motor that is early, the last of the load hides in it")
		}
	}
	f.States = l.paint(f.States, load)
}

// hears says whether there is sound of the second after a block, so that it can have its say in whether the load is
// gone.
func (l *loads) hears(i int) bool {
	n, of := 0, 0
	for j := i + 1; j < min(i+1+int(clearLeastS/blockS), len(l.blocks)); j++ {
		of++
		if la := l.blocks[j].laDB; la == la {
			n++
		}
	}
	return 2*n >= of
}

// paint splits the running spans into loaded and no-load ones.
func (l *loads) paint(spans []rig.Span, load []bool) []rig.Span {
	var out []rig.Span
	put := func(s rig.State, from, to float64) {
		if to <= from {
			return
		}
		if n := len(out); n > 0 && out[n-1].State == s && from-out[n-1].ToS.V < 1e-9 {
			out[n-1].ToS = rig.Fig(to)
			return
		}
		out = append(out, rig.Span{State: s, FromS: rig.Fig(from), ToS: rig.Fig(to)})
	}
	i := 0
	for _, s := range spans {
		if s.State != rig.NoLoad {
			put(s.State, s.FromS.V, s.ToS.V)
			continue
		}
		at, state := s.FromS.V, rig.NoLoad
		for ; i < len(l.blocks) && l.blocks[i].toS <= s.FromS.V; i++ {
		}
		for j := i; j < len(l.blocks) && l.blocks[j].fromS < s.ToS.V; j++ {
			now := rig.NoLoad
			if near(load, j) {
				now = rig.Loaded
			}
			if now != state {
				put(state, at, max(at, l.blocks[j].fromS))
				at, state = max(at, l.blocks[j].fromS), now
			}
		}
		put(state, at, s.ToS.V)
	}
	return out
}

// near says whether there is load in a block, or on both sides of it within half a second: the ribbon
// should not flicker.
func near(load []bool, i int) bool {
	before, after := load[i], load[i]
	for j := max(i-5, 0); j <= min(i+5, len(load)-1); j++ {
		before = before || j < i && load[j]
		after = after || j > i && load[j]
	}
	return before && after
}

func (l *loads) warn(code, text string) {
	l.warnings = append(l.warnings, rig.Warning{Code: code, Text: text})
}
