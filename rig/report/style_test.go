package report

import (
	"math"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/score/gum"
)

// One pound is 453.59237 g, exactly, and sixteen ounces (international agreement of 1959; NIST Handbook 44,
// appendix C; from memory).
func TestOuncesAreOfTheSameGrams(t *testing.T) {
	oz, g := Style{Mass: Ounces}, Style{}
	for _, c := range []struct {
		grams  float64
		oz, wg string
	}{{453.59237, "16.00 oz", "454 g"}, {0, "0.00 oz", "0 g"}, {2500, "88.18 oz", "2500 g"}, {1, "0.04 oz", "1 g"}} {
		if got := oz.Measure("left_g", c.grams); got != c.oz {
			t.Errorf("%g g: got %s, want %s", c.grams, got, c.oz)
		}
		if got := g.Measure("left_g", c.grams); got != c.wg {
			t.Errorf("%g g: got %s, want %s", c.grams, got, c.wg)
		}
	}
	if got := oz.Half("left_g", gramsPerOunce*0.34); got != "±0.34 oz" {
		t.Errorf("got %s", got)
	}
	for _, same := range []string{"left_share", "laeq_db", "run_time_s", "trips"} {
		if a, b := oz.Measure(same, 0.0499), g.Measure(same, 0.0499); a != b {
			t.Errorf("%s is no mass: %s, %s", same, a, b)
		}
	}
	if !(math.Abs(16*gramsPerOunce-453.59237) <= 1e-12) {
		t.Error("sixteen ounces are no pound")
	}
}

// A value that is printed like its limit is decided by its full digits, and they are printed then.
func TestRoundedFiguresDecideNothing(t *testing.T) {
	for _, c := range []struct {
		name         string
		measure      string
		value, limit float64
		style        Style
		fails        bool
		want         string
	}{
		{"just above", "left_share", 0.050004, 0.05, Style{}, true, "5.00 % (in full 5.0004 %)"},
		{"just below", "left_share", 0.049997, 0.05, Style{}, false, "5.00 % (in full 4.9997 %)"},
		{"on the limit", "left_share", 0.05, 0.05, Style{}, false, "5.00 %"},
		{"told by the usual digits", "left_share", 0.0512, 0.05, Style{}, true, "5.12 %"},
		{"a time", "run_time_s", 240.04, 240, Style{}, true, "4:00.0 (in full 240.04 s)"},
		{"a level", "laeq_db", 70.0001, 70, Style{}, true, "70.0 dB (in full 70.0001 dB)"},
		{"grams", "left_g", 90.2, 90, Style{}, true, "90 g (in full 90.20 g)"},
		{"ounces", "left_g", 90.003, 90, Style{Mass: Ounces}, true, "3.17 oz (in full 3.1748 oz)"},
	} {
		gate := &config.Gate{Measure: c.measure, Side: "at-most", Limit: c.limit, Rule: "simple"}
		v := score.Value{Figure: rig.Fig(c.value)}
		d, err := gum.Gate{Limit: c.limit, Side: gum.AtMost, Rule: gum.Rule("simple")}.Decide(c.value, 0)
		if err != nil {
			t.Fatal(err)
		}
		res := score.GateResult{Gate: gate, Value: v, Decision: d}
		if res.Fails() != c.fails {
			t.Errorf("%s: fails %v, want %v", c.name, res.Fails(), c.fails)
		}
		if got := c.style.Gated(res); got != c.want {
			t.Errorf("%s: printed %q, want %q", c.name, got, c.want)
		}
	}
}

func TestAbsentIsNeverNought(t *testing.T) {
	for _, s := range []Style{{}, {Mass: Ounces}} {
		if got := s.Value("left_g", score.Value{Figure: rig.Absent("not-weighed")}); got != "- (not weighed)" || strings.Contains(got, "0") {
			t.Errorf("got %q", got)
		}
	}
}

// Numbers that stand below each other have the same number of decimals; what was not measured has none.
func TestMeansBelowEachOther(t *testing.T) {
	for measure, c := range map[string]struct {
		means []rig.Figure
		want  string
	}{
		"hand.build": {[]rig.Figure{rig.Fig(6.9), rig.Fig(7), rig.Absent("nobody entered it")}, "6.90 7.00 -"},
		"hand.price": {[]rig.Figure{rig.Fig(368), rig.Fig(99)}, "368 99"},
		"trips":      {[]rig.Figure{rig.Fig(0), rig.Fig(1.0 / 3), rig.Fig(2)}, "0.00 0.33 2.00"},
		"left_share": {[]rig.Figure{rig.Fig(0.01), rig.Fig(0.025)}, "1.00_% 2.50_%"},
		"run_time_s": {[]rig.Figure{rig.Fig(30), rig.Fig(30.25)}, "0:30.0 0:30.3"},
	} {
		var column []*score.CriterionScore
		for _, f := range c.means {
			column = append(column, &score.CriterionScore{Criterion: &config.Criterion{Measure: measure}, Mean: score.Value{Figure: f}})
		}
		var got []string
		for _, text := range (Style{}).Means(column) {
			got = append(got, strings.ReplaceAll(text, " ", "_"))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: %s, expected %s", measure, strings.Join(got, " "), c.want)
		}
	}
}

// A move of 0.0875 and the one part that it comes of are told by the same digits, whatever stands in their last bits.
func TestMovesAndTheirPartsReadAlike(t *testing.T) {
	if a, b := signed(6.756793104007672-6.6692931040076715), signed(0.08749999999999998); a != b {
		t.Errorf("a move of %s, because of %s", a, b)
	}
}
