package report

import (
	"testing"

	"quern/rig/score"
)

// "Passed" stands only where something could have failed.
func TestOutcomeWords(t *testing.T) {
	run := func(o score.Outcome, gates int) *score.Run {
		return &score.Run{Outcome: o, Gates: make([]score.GateResult, gates)}
	}
	for _, c := range []struct {
		ts        score.TestScore
		want, key string
	}{
		{score.TestScore{Outcome: score.Passed, Gates: make([]score.TestGate, 1), Runs: []*score.Run{run(score.Passed, 1), run(score.Failed, 1)}}, "passed (1 of 2)", "passed"},
		{score.TestScore{Outcome: score.Passed, Runs: []*score.Run{run(score.Passed, 0)}}, "no gate to check", "none"},
		{score.TestScore{Outcome: score.Passed}, "entered by hand", "none"},
		{score.TestScore{Outcome: score.NotMeasurable, Runs: []*score.Run{run(score.NotMeasurable, 1)}}, "not measurable", "not-measurable"},
		{score.TestScore{Outcome: score.Failed, Runs: []*score.Run{run(score.Failed, 0)}}, "failed", "failed"}, // a person said so
	} {
		if got, key := OutcomeWords(&c.ts), OutcomeKey(c.ts.Outcome, c.ts.NoGate()); got != c.want || key != c.key {
			t.Errorf("got %q (%s), want %q (%s)", got, key, c.want, c.key)
		}
	}
	for _, c := range []struct {
		r    *score.Run
		want string
	}{{run(score.Passed, 1), "passed"}, {run(score.Passed, 0), "no gate to check"}, {run(score.IsVoid, 0), "void"}} {
		if got := RunOutcomeWords(c.r); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
