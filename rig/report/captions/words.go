package captions

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"quern/rig"
	"quern/rig/report"
)

// gramsPerOunce is exact: 0.45359237 kg a pound, 16 ounces a pound (NIST SP 811, appendix B.8).
const gramsPerOunce = 28.349523125

// steady is a figure whose last digit stands still while it only trembles.
type steady struct {
	shown float64
	has   bool
}

func (f *steady) show(v float64, decimals int) (string, bool) {
	if math.IsNaN(v) || math.IsInf(v, 0) || math.Abs(v) > 1e9 {
		f.has = false
		return "", false
	}
	step := math.Pow(10, -float64(decimals))
	if !f.has || math.Abs(v-f.shown) >= tremble*step {
		f.shown, f.has = math.Round(v/step)*step, true
	}
	text := strconv.FormatFloat(f.shown, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text, true
}

// runs tells whether current flows.
func runs(s rig.State) bool { return s != rig.Off && s != rig.Tripped }

// stateWords tells a state.
func stateWords(s rig.State) string {
	if s == rig.Unknown {
		return "State unknown"
	}
	return plain(s.Words())
}

// eventWords tells an event; a question mark says that it is not sure.
func eventWords(e rig.Event) string {
	words := plain(report.KindWords(e.Kind))
	if e.Sure.OK && e.Sure.V < 0.5 {
		words += "?"
	}
	return words
}

// gathered tells events in their order; those of a kind are told once, with their number.
func gathered(due []happening) string {
	var words []string
	count := map[string]int{}
	for _, h := range due {
		w := eventWords(h.Event)
		if count[w]++; count[w] == 1 {
			words = append(words, w)
		}
	}
	for i, w := range words {
		if count[w] > 1 {
			words[i] = fmt.Sprintf("%d x %s", count[w], w)
		}
	}
	for n := len(words); n > 0; n-- {
		text := upper(strings.Join(words[:n], ", "))
		if n < len(words) {
			text += fmt.Sprintf(", and %d more", len(words)-n)
		}
		if fits(text) {
			return text
		}
	}
	return fmt.Sprintf("%d events", len(due))
}

func fits(text string) bool { return len(wrap(text)) <= 2 }

// wrap breaks a text into lines at its blanks; a word that is longer than a line is cut.
func wrap(text string) []string {
	var lines []string
	line := ""
	for _, w := range strings.Fields(text) {
		w = cut(w)
		switch {
		case line == "":
			line = w
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) <= lineChars:
			line += " " + w
		default:
			lines = append(lines, line)
			line = w
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// cut shortens text to a line; an ellipsis says so.
func cut(s string) string {
	s = plain(s)
	if r := []rune(s); len(r) > lineChars {
		return strings.TrimSpace(string(r[:lineChars-1])) + "…"
	}
	return s
}

func upper(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 || r == utf8.RuneError {
		return s
	}
	return strings.ToUpper(string(r)) + s[n:]
}
