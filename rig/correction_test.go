package rig

import (
	"strings"
	"testing"
)

func TestIsID(t *testing.T) {
	for s, want := range map[string]bool{
		"a": true, "unit-a": true, "0-": true, strings.Repeat("x", 63): true,
		"": false, "-a": false, "A": true, "Unit-B_2": true, "_a": false, "a.b": false, "@": false, "a[": false, "a b": false, "ä": false, "a\n": false, "a_b": true, strings.Repeat("x", 64): false,
	} {
		if IsID(s) != want {
			t.Errorf("%q: %v, want %v", s, !want, want)
		}
	}
}

func TestCorrectionCheck(t *testing.T) {
	for _, c := range []struct{ target, new, want string }{ // want "": it is taken
		{"unit", "unit-b", ""}, {"unit", "", "the id"}, {"unit", "Unit B", "the id"}, {"unit.x", "unit-b", "the id"}, {"procedure", "-", "the id"},
		{"kind", "control", ""}, {"kind", "test", "one of scored, conditioning"},
		{"void", "no", ""}, {"void", "yes", "one of rig, operator, no"},
		{"failed", "leaked", ""}, {"failed", "", "a reason"},
		{"weighing.3", "41.5", ""}, {"weighing.3", "-2e5", ""}, {"weighing.3", "withdrawn", ""}, {"weighing.0", "1", "weighing.NUMBER"}, {"weighing.x", "1", "weighing.NUMBER"},
		{"check.3", "withdrawn", ""}, {"check.3", "counts", ""}, {"check.3", "no", "one of withdrawn, counts"}, {"check.0", "counts", "check.NUMBER"}, {"check", "counts", "check.NUMBER"},
		{"weighing.3", "gone", "a net mass"}, {"weighing.3", "NaN", "a net mass"}, {"weighing.3", "1e300", "-1000000 to 1000000 g"}, {"weighing.3", "-1000001", "-1000000 to 1000000 g"},
		{"measure.run_time_s", "31", ""}, {"measure.run_time_s", "absent", ""}, {"measure.run_time_s", "-1", "0 or more"}, {"measure.run_time_s", "Inf", "a value in the measure's unit"},
		{"measure.run_time_s", "1e300", "at most 1000000000"}, {"measure.beauty", "3", "the name of a measure"}, {"measure.hand.build", "3", "the name of a measure"},
		{"", "x", "the target is missing"}, {"colour", "red", "expected unit, procedure"},
	} {
		switch err := (Correction{Target: c.target, New: c.new}).Check(); {
		case err == nil && c.want != "":
			t.Errorf("%s to %q was taken, want an error with %q", c.target, c.new, c.want)
		case err != nil && (c.want == "" || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%s to %q: %v, want %q", c.target, c.new, err, c.want)
		}
	}
}
