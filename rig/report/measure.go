package report

import (
	"math"
	"strings"

	"quern/rig"
	"quern/rig/score"
)

// MeasureWords prints a value of a measure with its unit and no more digits than it has.
func MeasureWords(name string, v float64) string {
	m, _ := rig.FindMeasure(name)
	switch {
	case m.Unit == "s":
		return minutes(v)
	case m.Unit == "dB":
		return decibels(v) + " dB"
	case m.Unit == "A":
		return amperes(v) + " A"
	case m.Unit == "As":
		return fixed(v, 0) + " As"
	case m.Unit == "g":
		return fixed(v, 0) + " g"
	case isShare(name):
		return fixed(100*v, 2) + " %"
	case m.Counted(): // a mean of counts is no whole number
		return fixed(v, decimals(v))
	case m.Part == rig.OfHand:
		return fixed(v, decimals(v))
	}
	return fixed(v, 2)
}

// isShare tells whether a measure is a part of a whole, which people read in per cent.
func isShare(name string) bool {
	return strings.HasSuffix(name, "_share") || strings.HasSuffix(name, "_of_input")
}

// decimals is how many a hand-entered number needs.
func decimals(v float64) int {
	if math.Abs(v-math.Round(v)) < 1e-9 {
		return 0
	}
	return 2
}

// HalfWords prints an uncertainty of a measure in its unit, two digits of it, "±0.34 %"; "" if there is none.
func HalfWords(name string, u float64) string {
	if u < 1e-9 { // a count, or what repeats to the last digit
		return ""
	}
	m, _ := rig.FindMeasure(name)
	unit := m.Unit
	if isShare(name) {
		u, unit = 100*u, "%"
	}
	if unit != "" {
		unit = " " + unit
	}
	places := max(0, 1-int(math.Floor(math.Log10(u))))
	return "±" + fixed(u, min(places, 4)) + unit
}

// ValueWords prints a measure as a reader wants it: value, uncertainty and whether a person typed it; or
// why there is none.
func ValueWords(name string, v score.Value) string { return Style{}.Value(name, v) }

// points prints points to one decimal; ranks are taken from unrounded ones.
func points(f rig.Figure) string {
	if v, ok := f.Value(); ok {
		return fixed(v, 1)
	}
	return "-"
}
