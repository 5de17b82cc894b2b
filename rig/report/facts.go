package report

import (
	"fmt"
	"math"
	"strings"

	"quern/rig"
)

// CheckUnit is the unit of a check.
func CheckUnit(k rig.CheckKind) string {
	return map[rig.CheckKind]string{rig.CheckSound: "dB", rig.CheckScale: "g", rig.CheckClamp: "A", rig.CheckSupply: "V", rig.CheckWater: "L/min"}[k]
}

// CheckValues prints what a check should have shown and what it did, "1000.0 g" and "1000.4 g": with the decimals that one of
// the two needs, to a thousandth, and levels with a tenth at least, so that they stand below those of other days. "-" where
// there is none.
func CheckValues(k rig.Check) (nominal, found string) {
	places := 0
	if k.Kind == rig.CheckSound {
		places = 1
	}
	both := [2]rig.Figure{k.Nominal, k.Found}
	for _, f := range both {
		for places < 3 && f.OK && math.Abs(f.V-math.Round(f.V*math.Pow10(places))/math.Pow10(places)) > 1e-9 {
			places++
		}
	}
	var out [2]string
	for i, f := range both {
		if out[i] = "-"; f.OK {
			out[i] = fixed(f.V, places) + " " + CheckUnit(k.Kind)
		}
	}
	return out[0], out[1]
}

// TakenWords says how a weighing was taken: "taken on request, not stable".
func TakenWords(w rig.Weighing) string {
	var how []string
	switch {
	case w.Typed:
		how = append(how, "typed in")
	case w.Auto:
		how = append(how, "taken by itself")
	default:
		how = append(how, "taken on request")
	}
	if w.Stable == rig.No {
		how = append(how, "not stable")
	}
	if w.Shaken {
		how = append(how, "while the motor ran")
	}
	if w.SlopeGPerMin.OK && w.SlopeGPerMin.V != 0 {
		how = append(how, fmt.Sprintf("moving %+.1f g/min", w.SlopeGPerMin.V))
	}
	return strings.Join(how, ", ")
}

// CorrectionWords says what a correction does.
func CorrectionWords(k rig.Correction) string {
	what, name, _ := strings.Cut(k.Target, ".")
	switch what {
	case "void":
		if k.New == "no" {
			return "counts after all"
		}
		return "void, because of the " + k.New
	case "failed":
		if k.New == "no" {
			return "not failed after all"
		}
		return "failed: " + k.New
	case "weighing":
		if k.New == "withdrawn" {
			return "weighing " + name + " withdrawn"
		}
		return "weighing " + name + " is " + k.New + " g"
	case "check":
		if k.New == "withdrawn" {
			return "check " + name + " withdrawn"
		}
		return "check " + name + " counts after all"
	case "measure":
		return NameWords(name) + " is " + k.New
	}
	return what + " is " + k.New
}
