package overlay

import (
	"math"
	"strconv"
	"strings"

	"quern/rig"
)

// The rules by which figures and words stand still are those of the on-camera page.
const (
	paceTenths = 5    // a figure changes at most twice a second,
	tremble    = 0.75 // and only by at least so much of its last digit
	wordS      = 0.5  // a word stands so long, unless what follows is grave
)

// steady is a figure as it is shown, by tenths of a second: its last digit stands still while the figure
// only trembles. It is worked out from the session's beginning, so that it does not depend on where a film begins.
type steady struct {
	shown    []float32 // NaN: absent
	decimals int
}

func newSteady(t *Track, decimals int) steady {
	s := steady{shown: make([]float32, len(t.value)), decimals: decimals}
	step := math.Pow(10, -float64(decimals))
	last, since := math.NaN(), 0
	for k := range t.value {
		v := t.at(k)
		switch {
		case math.IsNaN(v):
			last = math.NaN()
		case math.IsNaN(last), k-since >= paceTenths && math.Abs(v-last) >= tremble*step:
			last, since = math.Round(v/step)*step, k
		}
		s.shown[k] = float32(last)
	}
	return s
}

func (s steady) text(atS float64) string {
	k := int(math.Floor(atS / tenthS))
	if k < 0 || k >= len(s.shown) || math.IsNaN(float64(s.shown[k])) {
		return absent
	}
	text := strconv.FormatFloat(float64(s.shown[k]), 'f', s.decimals, 32)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}

// change is a state that is shown from an instant on.
type change struct {
	atS   float64
	state rig.State
}

// grave says whether a state must not be missed, however short it is.
func grave(s rig.State) bool {
	return s == rig.Stalled || s == rig.Tripped || s == rig.Overloaded
}

// statesOf returns what the motor did, from the session's beginning on. After a run that ended in a trip
// the state stays until the next start: the protector may close again by itself.
func statesOf(runs []rig.Run) []change {
	if len(runs) == 0 {
		return []change{{0, rig.Unknown}}
	}
	out := []change{{0, rig.Off}}
	say := func(atS float64, s rig.State) {
		switch last := &out[len(out)-1]; {
		case last.state == s:
		case atS <= last.atS:
			last.state = s
		default:
			out = append(out, change{atS, s})
		}
	}
	for _, r := range runs {
		at, ok := r.StartS.Value()
		end, okEnd := r.EndS.Value()
		if !ok || !okEnd {
			continue
		}
		for _, s := range r.States {
			from, okFrom := s.FromS.Value()
			to, okTo := s.ToS.Value()
			if !okFrom || !okTo || to <= from {
				continue
			}
			if from > at {
				say(at, rig.Unknown)
			}
			say(from, s.State)
			at = max(at, to)
		}
		if end > at {
			say(at, rig.Unknown)
		}
		say(end, after(r))
	}
	return out
}

// after returns the state once a run is over.
func after(r rig.Run) rig.State {
	for i := len(r.Events) - 1; i >= 0; i-- {
		switch r.Events[i].Kind {
		case rig.Trip:
			return rig.Tripped
		case rig.MotorStop:
			return rig.Off
		}
	}
	return rig.Off
}

// calm drops what is too short to be read. What is grave is said at once, however short it is.
func calm(all []change) []change {
	out := all[:1:1]
	for i, c := range all[1:] {
		until := math.Inf(1)
		if i+2 < len(all) {
			until = all[i+2].atS
		}
		last := out[len(out)-1]
		if !grave(c.state) {
			c.atS = max(c.atS, last.atS+wordS)
		}
		if c.atS < until && c.state != last.state {
			out = append(out, c)
		}
	}
	return out
}

// stateAt returns the last state that has begun.
func stateAt(all []change, atS float64) rig.State {
	lo, hi := 0, len(all)
	for lo < hi {
		if m := (lo + hi) / 2; all[m].atS <= atS {
			lo = m + 1
		} else {
			hi = m
		}
	}
	if lo == 0 {
		return rig.Unknown
	}
	return all[lo-1].state
}
