package report

import (
	"fmt"
	"slices"
	"strings"
)

// label is a word that belongs to an instant.
type label struct {
	x      float64 // of the instant
	word   string  // of an event, or of several joined
	strong bool    // never joined with others
	grave  bool    // joined with other kinds only as a last resort
	wide   float64
	row    int // counted from the axis
}

// labelGap keeps labels, and the leaders to them, apart, pt.
const labelGap = 3

// place sets labels in rows so that neither a label nor its leader, which goes up from the axis at
// its instant, touches another label. Each label begins at its instant. If there are more than rows
// can hold, neighbours are joined into one that says how many they are, more and more of them. The
// labels come in order of x; wide measures a word.
func place(labels []label, rows int, wide func(string) float64) []label {
	for reach := 0.0; ; reach = max(1, 1.5*reach) {
		joined := join(labels, reach)
		for i := range joined {
			joined[i].wide = wide(joined[i].word)
		}
		if stagger(joined, rows) || reach > 1e5 {
			return joined
		}
	}
}

// lastResort is the reach from which labels of any kind are joined, pt.
const lastResort = 100

// join joins labels that begin within reach of the first of them.
func join(labels []label, reach float64) []label {
	if reach == 0 {
		return slices.Clone(labels)
	}
	var out []label
	joins := func(l, o label) bool {
		return !l.strong && !o.strong && o.x-l.x <= reach && (l.grave == o.grave || reach > lastResort)
	}
	for i := 0; i < len(labels); {
		l := labels[i]
		words := []string{l.word}
		for i++; i < len(labels) && joins(l, labels[i]); i++ {
			words = append(words, labels[i].word)
		}
		l.word = joinWords(words)
		out = append(out, l)
	}
	return out
}

// joinWords tells several events in few words. What is grave is always named.
func joinWords(words []string) string {
	// A stall or an overload that begins and ends here is one thing.
	var things []string
	for i := 0; i < len(words); i++ {
		thing, begins := strings.CutSuffix(words[i], " start")
		if begins && i+1 < len(words) && words[i+1] == thing+" end" {
			i++
		} else {
			thing = words[i]
		}
		things = append(things, thing)
	}
	count := func(t string) int {
		n := 0
		for _, o := range things {
			if o == t {
				n++
			}
		}
		return n
	}
	times := func(t string) string {
		if n := count(t); n > 1 {
			return fmt.Sprintf("%s ×%d", t, n)
		}
		return t
	}
	first := things[0]
	switch {
	case count(first) == len(things):
		return times(first)
	case len(things) == 2:
		// "motor stop, start"
		a, _, _ := strings.Cut(first, " ")
		b, rest, ok := strings.Cut(things[1], " ")
		if ok && a == b {
			return first + ", " + rest
		}
		return first + ", " + things[1]
	}
	if !slices.ContainsFunc(things, func(t string) bool { return t != "motor start" && t != "motor stop" }) {
		return fmt.Sprintf("motor on/off ×%d", len(things))
	}
	for _, grave := range []string{"trip (presumed)", "stall", "overload"} {
		if i := slices.IndexFunc(things, func(t string) bool { return strings.HasPrefix(t, grave) }); i >= 0 {
			return fmt.Sprintf("%s + %d more", times(things[i]), len(things)-count(things[i]))
		}
	}
	return fmt.Sprintf("%d events", len(things))
}

// stagger gives each label a row and reports whether the rows sufficed. It works from the right: an
// earlier label goes above those that its word would run into, so that its leader passes to the
// left of them.
func stagger(labels []label, rows int) bool {
	// from[r] is the x left of which a word in row r must end; a leader in a higher row counts too.
	var from []float64
	for i := len(labels) - 1; i >= 0; i-- {
		l := &labels[i]
		l.row = 0
		for l.row < len(from) && l.x+l.wide+labelGap > from[l.row] {
			l.row++
		}
		if l.row == len(from) {
			if l.row == rows {
				return false
			}
			from = append(from, 0)
		}
		for r := range l.row + 1 {
			from[r] = l.x
		}
	}
	return true
}
