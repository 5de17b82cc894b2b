package report

import (
	"fmt"
	"regexp"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/score/rank"
)

// The words below are what pages print, so that a number reads the same on a screen and on paper.

// TimeWords prints seconds as m:ss.s.
func TimeWords(s float64) string { return minutes(s) }

// AtWords tells an instant of a session: "0:04.4"; what was put on record from a day after its start on by the days: "12 days
// later".
func AtWords(s float64) string {
	const dayS = 86400
	if s < dayS {
		return minutes(s)
	}
	return rig.Count(int(s/dayS), "day") + " later"
}

// PointsWords prints points to one decimal, "-" if there are none.
func PointsWords(f rig.Figure) string { return points(f) }

// MoveWords prints a difference of points with its sign.
func MoveWords(v float64) string { return signed(v) }

// LimitWords prints what a gate asks: "at most 5.00 %".
func LimitWords(g *config.Gate) string { return Style{}.Limit(g) }

// VerdictWords says how a gate was decided: "passed", "passed, close", "failed", "failed, close" or
// "not measurable".
func VerdictWords(g score.GateResult) string {
	if !g.Decided() {
		return string(score.NotMeasurable)
	}
	word := string(score.Failed)
	if g.Verdict.Passed() {
		word = string(score.Passed)
	}
	if g.Close() {
		word += ", close"
	}
	return word
}

// SurelyWords says with what probability a value holds its limit; "surely" if there is no doubt.
func SurelyWords(g score.GateResult) string {
	if !g.Decided() {
		return ""
	}
	if g.Value.Total() > 0 && g.Conformance > 0.0005 && g.Conformance < 0.9995 {
		return "holds the limit with a probability of " + fixed(100*g.Conformance, 1) + " %"
	}
	return noDoubt
}

const noDoubt = "surely"

// CurveWords says where on the curve of a criterion a run's points come from.
func CurveWords(k *score.CriterionScore, p score.RunPoints) string { return Style{}.Curve(k, p) }

// trimmed prints points without a decimal that says nothing.
func trimmed(v float64) string { return strings.TrimSuffix(fixed(v, 1), ".0") }

// PartWords tells why a part of a move happened: "another measure, 68.7 dB instead of 68.0 dB".
func PartWords(m score.Move, p rank.Part) string { return causeWords(p.Cause) + measureMove(m, p) }

// AloneWords says what may be said of a first place.
func AloneWords(s *score.Standings) string {
	if rivals := s.Rivals(); len(rivals) > 0 {
		return fmt.Sprintf("The first cannot be told from %s.", rig.Count(len(rivals), "other"))
	}
	if s.Sure && len(s.Lines) > 1 && s.Lines[0].Ranked {
		return alone(s.Lines[0])
	}
	return ""
}

// NameWords is what a measure is called in print: its unit is said with its value.
func NameWords(name string) string {
	switch name {
	case "laeq_db":
		return "LAeq"
	case "laeq_uncorrected_db":
		return "LAeq as measured"
	case "lafmax_db":
		return "LAFmax"
	case "lasmax_db":
		return "LASmax"
	case "la10_db":
		return "LA10"
	case "la90_db":
		return "LA90"
	case "lcpeak_db":
		return "LCpeak"
	case "lae_db":
		return "LAE"
	case "idle_a":
		return "no-load current"
	case "drawn_as":
		return "ampere-seconds"
	case "mean_a":
		return "mean current"
	case "max_a":
		return "largest current"
	case "inrush_a":
		return "inrush current"
	case "clear_s":
		return "time to clear"
	case "pause_s":
		return "time in pauses"
	case "stall_s":
		return "time stalled"
	case "overload_s":
		return "time overloaded"
	case "motor_on_s":
		return "motor-on time"
	case "elapsed_s":
		return "elapsed time"
	}
	for _, unit := range []string{"_s", "_g", "_a", "_db"} {
		if rest, ok := strings.CutSuffix(name, unit); ok {
			name = rest
			break
		}
	}
	name = strings.TrimPrefix(name, rig.HandMeasure)
	return strings.ReplaceAll(name, "_", " ")
}

// LimitAt returns when the clock of a run reaches the limit, or would have, had the run gone on, s of the
// session; false if there is no limit.
func LimitAt(r rig.Run, limitS float64) (atS float64, ok bool) {
	if !(limitS > 0) {
		return 0, false
	}
	return limitAt(r, limitS)
}

// PlainWords puts the names of measures in a text into words: "left_share: passed 0 of 3".
func PlainWords(text string) string {
	return measureName.ReplaceAllStringFunc(text, func(name string) string {
		if _, ok := rig.FindMeasure(name); ok {
			return NameWords(name)
		}
		return name
	})
}

var measureName = regexp.MustCompile(`\b[a-z0-9]+(?:_[a-z0-9]+)+\b`)

// CriterionWords is what a criterion is called: its title, or what it measures.
func CriterionWords(k *config.Criterion) string {
	if k.Title != "" {
		return Clean(k.Title)
	}
	return NameWords(k.Measure)
}
