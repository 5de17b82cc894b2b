package report

import (
	"fmt"
	"strings"

	"quern/rig"
)

// CheckUnit is the unit of a check.
func CheckUnit(k rig.CheckKind) string {
	return map[rig.CheckKind]string{rig.CheckSound: "dB", rig.CheckScale: "g", rig.CheckClamp: "A", rig.CheckSupply: "V", rig.CheckWater: "L/min"}[k]
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
