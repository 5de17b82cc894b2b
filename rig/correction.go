package rig

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Check tells what is wrong with a correction's target and new value.
func (k Correction) Check() error {
	kind, name, _ := strings.Cut(k.Target, ".")
	want := ""
	switch kind {
	case "unit", "procedure":
		if !IsID(k.New) || name != "" {
			want = "the id that should have been chosen"
		}
	case "kind":
		want = oneOf(k.New, "scored", "conditioning", "control", "unplanned")
	case "void":
		want = oneOf(k.New, "rig", "operator", "no")
	case "failed":
		if k.New == "" {
			want = "a reason, or no"
		}
	case "weighing":
		if n, err := strconv.Atoi(name); err != nil || n < 1 {
			return fmt.Errorf("found target %q, expected weighing.NUMBER", k.Target)
		}
		if k.New != "withdrawn" && !finite(k.New) {
			want = "a net mass in grams, or withdrawn"
		} else if v, _ := strconv.ParseFloat(k.New, 64); math.Abs(v) > MostMassG {
			want = fmt.Sprintf("%.0f to %.0f g", -MostMassG, MostMassG)
		}
	case "check":
		if n, err := strconv.Atoi(name); err != nil || n < 1 {
			return fmt.Errorf("found target %q, expected check.NUMBER", k.Target)
		}
		want = oneOf(k.New, "withdrawn", "counts")
	case "measure":
		if m, ok := FindMeasure(name); !ok || m.Part == OfHand {
			return fmt.Errorf("found target %q, expected measure. and the name of a measure, such as measure.run_time_s", k.Target)
		}
		if k.New == "absent" {
			break
		}
		if !finite(k.New) {
			want = "a value in the measure's unit, or absent"
			break
		}
		v, _ := strconv.ParseFloat(k.New, 64) // finite
		m, _ := FindMeasure(name)
		if err := m.Fits(v); err != nil {
			return err
		}
	case "":
		return errors.New("the target is missing: unit, procedure, kind, void, failed, weighing.NUMBER, check.NUMBER or measure.NAME")
	default:
		return fmt.Errorf("found target %q, expected unit, procedure, kind, void, failed, weighing.NUMBER, check.NUMBER or measure.NAME", k.Target)
	}
	if want != "" {
		return fmt.Errorf("found %q for %s, expected %s", k.New, k.Target, want)
	}
	return nil
}

func oneOf(s string, words ...string) string {
	for _, w := range words {
		if s == w {
			return ""
		}
	}
	return "one of " + strings.Join(words, ", ")
}

func finite(s string) bool {
	v, err := strconv.ParseFloat(s, 64)
	return err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}
