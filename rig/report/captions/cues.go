package captions

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"quern/rig"
)

// What can be read (all common practice).
const (
	charsPerS = 17.0
	leastCueS = 1.0
	mostCueS  = 7.0
	lineChars = 42
	betweenS  = 0.08 // two frames at 25 a second: without them one cue seems to change into the next
)

// How figures behave.
const (
	stateCueS = 4.0  // a state is told anew so often
	tremble   = 0.75 // a figure changes only by so much of its last digit, as on the on-camera page
)

// Cue is a text and when it stands, s on the camera's clock.
type Cue struct {
	FromS, ToS float64
	Lines      []string // one or two, as plain text
}

// readS returns how long it takes to read lines.
func readS(lines []string) float64 {
	n := 0
	for _, l := range lines {
		n += utf8.RuneCountInString(l)
	}
	return max(leastCueS, float64(n)/charsPerS)
}

func sortStable(h []happening) {
	slices.SortStableFunc(h, func(a, b happening) int { return cmp.Compare(a.atS, b.atS) })
}

// Cues returns the captions of a shot.
func (s *Shot) Cues() []Cue {
	w := writer{shot: s}
	fromS, toS := s.span()
	all := s.happenings()
	for at := fromS; at < toS; {
		// What has happened since the last cue began comes first.
		var due []happening
		for len(all) > 0 && all[0].atS <= at+1e-9 {
			due, all = append(due, all[0]), all[1:]
		}
		next := toS
		if len(all) > 0 {
			next = all[0].atS
		}
		switch state, run := s.stateAt(s.Camera.SessionS(at)); {
		case len(due) > 0:
			at = w.happened(at, next, toS, due)
		case len(w.ended) > 0 && state == rig.Off && next-at >= leastCueS:
			at = w.result(at, next, toS)
		case state != rig.Off:
			at = w.state(at, next, state, run)
		default:
			at = next
		}
	}
	return w.cues
}

// writer puts cues one after another.
type writer struct {
	shot    *Shot
	cues    []Cue
	level   steady
	current steady
	mass    steady
	told    int   // the last run whose unit was told
	ended   []int // runs whose results are to be told
}

// put adds a cue that stands at least as long as it takes to read it, and at most until toS.
func (w *writer) put(fromS, wantS, toS float64, lines ...string) float64 {
	lines = slices.DeleteFunc(lines, func(l string) bool { return l == "" })
	end := min(fromS+max(wantS, readS(lines)), toS)
	if len(lines) == 0 || end-fromS < 0.25*leastCueS { // the footage ends
		return end
	}
	// What says the same goes on standing.
	if k := len(w.cues) - 1; k >= 0 && fromS-w.cues[k].ToS < 2*betweenS && slices.Equal(w.cues[k].Lines, lines) {
		w.cues[k].ToS = max(w.cues[k].ToS, end-betweenS)
		return end
	}
	w.cues = append(w.cues, Cue{fromS, max(fromS+0.001, end-betweenS), lines})
	return end
}

// happened tells events.
func (w *writer) happened(at, next, toS float64, due []happening) float64 {
	words := gathered(due)
	for _, h := range due {
		if h.Kind == rig.MotorStop || h.Kind == rig.Trip {
			if r := w.shot.Result.Runs[h.run-1]; r.EndS.OK && h.AtS.V >= r.EndS.V-0.001 && !slices.Contains(w.ended, h.run) {
				w.ended = append(w.ended, h.run)
			}
		}
	}
	lines := wrap(words)
	if len(lines) == 1 {
		if first := due[0]; first.Kind == rig.MotorStart && w.told < first.run {
			w.told = first.run // whose run it is
			lines = append(lines, cut(w.shot.Unit))
		} else if state, _ := w.shot.stateAt(w.shot.Camera.SessionS(at)); runs(state) {
			lines = append(lines, w.figures(at, min(next, at+readS(lines)+1)))
		}
	}
	// An event's words stay for two seconds if nothing follows.
	return w.put(at, min(2, max(0, next-at)), toS, lines...)
}

// state tells a state with its figures, up to the next event.
func (w *writer) state(at, next float64, state rig.State, run int) float64 {
	s := w.shot
	end := min(at+stateCueS, next)
	line := stateWords(state)
	if len(s.Result.Runs) > 1 {
		line += fmt.Sprintf(", run %d", run)
	}
	lines := []string{line}
	if runs(state) { // otherwise there is nothing of the unit to be told
		lines = append(lines, w.figures(at, end))
	}
	if end-at < readS(lines) {
		// There is no time to read it before something happens: what stands stays.
		if k := len(w.cues) - 1; k >= 0 && at-w.cues[k].ToS < 2*betweenS && next-w.cues[k].FromS <= mostCueS {
			w.cues[k].ToS = max(w.cues[k].ToS, next-betweenS)
		}
		return next
	}
	if next-end < readS(lines) && next-at <= mostCueS { // no remainder that is too short
		end = next
	}
	return w.put(at, end-at, end, lines...)
}

// result tells what a run came to.
func (w *writer) result(at, next, toS float64) float64 {
	run := w.ended[0]
	w.ended = w.ended[1:]
	lines := w.shot.resultLines(run)
	if len(lines) == 0 {
		return at
	}
	return w.put(at, 4, min(toS, max(next, at+readS(lines))), lines...)
}

// figures tells level and current between two instants of the camera's clock.
func (w *writer) figures(fromS, toS float64) string {
	s := w.shot
	a, b := s.Camera.SessionS(fromS), s.Camera.SessionS(toS)
	var parts []string
	if v, ok := w.level.show(s.Level.mean(a, b, true), 0); ok {
		parts = append(parts, v+" dB(A)")
	}
	if v, ok := w.current.show(s.Current.mean(a, b, false), 1); ok {
		parts = append(parts, v+" A")
	}
	if s.Masses != NoMass {
		v, decimals := s.Mass.mean(a, b, false), 0
		if s.Masses == Ounces {
			v, decimals = v/gramsPerOunce, 1
		}
		if v, ok := w.mass.show(v, decimals); ok {
			parts = append(parts, v+" "+string(s.Masses))
		}
	}
	return strings.Join(parts, ", ")
}
