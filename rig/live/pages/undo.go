package pages

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"quern/rig/live"
)

// undo is an act that can be taken back, and the act that does it.
type undo struct {
	what  string
	asked map[string]any // of POST /act; nil: only what was said is forgotten
	then  func()         // called with the lock held
	fact  int            // of a weighing; 0: none
}

// mostUndos is how many acts can be taken back.
const mostUndos = 50

// follow makes weighings that the daemon took by itself acts that can be taken back.
func (b *bench) follow(s live.Snapshot) {
	for _, w := range weighings(s) {
		known := slices.ContainsFunc(b.undos, func(u undo) bool { return u.fact == w.Fact })
		switch {
		case w.Withdrawn && known:
			b.undos = slices.DeleteFunc(b.undos, func(u undo) bool { return u.fact == w.Fact })
		case !w.Withdrawn && !known:
			b.push(undo{what: "weighing of " + weighed1(w), fact: w.Fact})
		}
	}
}

func weighed1(w live.WeighingNow) string {
	if w.Item != "" {
		return strings.ReplaceAll(w.Item, "-", " ")
	}
	return string(w.Role)
}

func (b *bench) push(u undo) {
	b.undos = append(b.undos, u)
	if n := len(b.undos) - mostUndos; n > 0 {
		b.undos = slices.Delete(b.undos, 0, n)
	}
}

// did notes an act and what takes it back.
func (b *bench) did(u undo) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.stirred = b.now()
	b.push(u)
}

// last returns what would be taken back next.
func (b *bench) last() (undo, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.undos) == 0 {
		return undo{}, false
	}
	return b.undos[len(b.undos)-1], true
}

// undone forgets the act that was taken back.
func (b *bench) undone() {
	b.mu.Lock()
	defer b.mu.Unlock()
	n := len(b.undos) - 1
	if n < 0 {
		return
	}
	if u := b.undos[n]; u.then != nil {
		u.then()
	}
	b.undos = b.undos[:n]
}

// markUndo takes back what is only noted: by another note, for nothing is ever removed.
func markUndo(text string) undo {
	return undo{what: cutText("mark “"+text+"”", 60), asked: map[string]any{"act": "mark", "text": cutText("taken back: "+text, 900)}}
}

// takeBack takes the last act back, by an act of its own; what is the act that the screen showed when it was pressed, "" if
// that is not known: another may have come since, from another screen or from the scale.
func (s *Site) takeBack(r *http.Request, what string) (string, error) {
	s.bench.one.Lock()
	defer s.bench.one.Unlock()
	now := s.opts.Engine.Now()
	p := s.procedure(now)
	s.bench.observe(now, &p)
	u, ok := s.bench.last()
	if !ok {
		return "", errors.New("there is nothing to take back")
	}
	if what != "" && what != strings.Join(strings.Fields(u.what), " ") {
		return "", fmt.Errorf("the last act is another by now: %s. To take that back, press Undo again", u.what)
	}
	asked := u.asked
	if u.fact > 0 {
		asked = map[string]any{"act": "undo", "why": "taken back at the bench"}
		if n := lastFact(now); n != u.fact {
			asked = map[string]any{"act": "correct", "target": "weighing." + strconv.Itoa(u.fact), "new": "withdrawn", "why": "taken back at the bench"}
		}
	}
	if asked != nil {
		if _, err := s.ask(r, asked); err != nil {
			return "", err
		}
	}
	s.bench.undone()
	return "taken back: " + u.what, nil
}

// lastFact is the number of the last weighing that counts.
func lastFact(s live.Snapshot) int {
	for _, w := range slices.Backward(weighings(s)) {
		if !w.Withdrawn {
			return w.Fact
		}
	}
	return 0
}
