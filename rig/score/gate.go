package score

import (
	"fmt"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/score/gum"
)

// GateResult is a gate decided on one run, or on the mean of runs.
type GateResult struct {
	Gate  *config.Gate
	Value Value
	gum.Decision
	Why string // why there is no verdict; "" if there is one
}

// Decided says whether there is a verdict.
func (g GateResult) Decided() bool { return g.Why == "" }

// Fails says whether there is one and it is a failure.
func (g GateResult) Fails() bool { return g.Decided() && !g.Verdict.Passed() }

// Close says whether the verdict lies within the band: another weighing or run may turn it.
func (g GateResult) Close() bool {
	return g.Verdict == gum.PassClose || g.Verdict == gum.FailClose
}

func limit(g *config.Gate) gum.Gate {
	side := gum.AtMost
	if g.Side == "at-least" {
		side = gum.AtLeast
	}
	return gum.Gate{Limit: g.Limit, Side: side, Rule: gum.Rule(g.Rule), K: g.Band}
}

// decide decides a gate on a value.
func decide(g *config.Gate, v Value) GateResult {
	out := GateResult{Gate: g, Value: v}
	if !v.OK {
		out.Why = v.Why
		return out
	}
	d, err := limit(g).Decide(v.V, v.Total())
	if err != nil {
		out.Why = err.Error()
		return out
	}
	out.Decision = d
	return out
}

// NoGate says whether a run is called passed only because its procedure sets no gate.
func (r *Run) NoGate() bool { return r.Outcome == Passed && len(r.Gates) == 0 }

// NoGate says whether a test is called passed without any gate that could have failed: its procedure sets none, it
// asks for none (gated = false), or its values were entered by hand.
func (ts *TestScore) NoGate() bool { return ts.Outcome == Passed && len(ts.Gates) == 0 }

// judge decides all gates of a run, and its outcome by itself.
func (r *Run) judge() {
	fails, undecided := r.Failing, false
	for i := range r.Procedure.Gates {
		g := &r.Procedure.Gates[i]
		res := decide(g, r.keep(g.Measure))
		r.Gates = append(r.Gates, res)
		fails = fails || res.Fails()
		undecided = undecided || !res.Decided()
	}
	switch {
	case r.Status == Void:
		r.Outcome = IsVoid
	case fails:
		r.Outcome = Failed
	case undecided:
		r.Outcome = NotMeasurable
	default:
		r.Outcome = Passed
	}
}

// TakenByHand is the reason that stands beside a value that was taken by hand in the first place.
const TakenByHand = "taken by hand"

// remark gathers what a reader has to know beside the values.
func (r *Run) remark() {
	say := func(format string, args ...any) { r.Remarks = append(r.Remarks, fmt.Sprintf(format, args...)) }
	if r.Record.Origin == rig.ByHand {
		say("taken by hand: no recording")
	}
	for _, w := range r.Record.Damage() {
		say("the session is damaged, and this may be wrong: %s", w.Text)
	}
	r.Remarks = append(r.Remarks, r.doubts()...)
	r.Remarks = append(r.Remarks, r.balance.doubts...)
	r.Remarks = append(r.Remarks, r.balance.late...)
	if hand := slices.Sorted(slices.Values(r.balance.hand)); len(hand) > 0 {
		say("typed in: weighing%s %s", plural(len(hand)), strings.ReplaceAll(strings.Trim(fmt.Sprint(hand), "[]"), " ", ", "))
	}
	for _, g := range r.Gates {
		if g.Close() {
			say("%s is too close to call (%s): weigh or run again while that is possible", g.Gate.Measure, g.Verdict)
		}
		if !g.Decided() {
			say("%s cannot be judged: %s", g.Gate.Measure, rig.WhyWords(g.Why))
		}
	}
	for _, k := range r.Applied {
		if r.Record.Origin == rig.ByHand && k.Why == TakenByHand {
			continue // the value itself, not a correction of one
		}
		say("corrected: %s to %s by %s: %s", k.Target, k.New, k.Who, k.Why)
	}
}

// bounds are the warnings of the analysis by which figures that are scored are bounds, or stand for a part of the run, or
// for something else.
var bounds = []string{"microphone-clipped", "microphone-short", "microphone-gap", "microphone-silent", "background-loud",
	"clamp-clipped", "clamp-ended", "clamp-lost", "clamp-saw-much", "other-appliance", "flat-and-unheard"}

// doubts are those of them that speak of this run, or of none alone; what befell the microphone outside of runs is of no
// matter.
func (r *Run) doubts() (out []string) {
	for _, w := range r.Record.Result.Warnings {
		mine := w.Run == r.N || w.Run == 0 && !strings.HasPrefix(w.Code, "microphone-")
		if mine && slices.Contains(bounds, w.Code) {
			out = append(out, w.Text)
		}
	}
	return out
}

// benchDay is a day of one bench.
type benchDay struct{ bench, day string }

// checked adds a remark for every check of the day that the procedure asks for and nobody made, in
// whichever session of the bench, with a run or without. Of one that stands in a session beside the records the
// remark says in which.
func (c *Campaign) checked(records, beside []rig.Record) {
	type check struct {
		benchDay
		kind rig.CheckKind
	}
	collect := func(records []rig.Record) map[check]string { // the session of the first
		made := map[check]string{}
		for i := range records {
			rec := &records[i]
			for _, k := range rec.Facts.Checks {
				if key := (check{benchDay{rec.Bench, rec.Day()}, k.Kind}); made[key] == "" && rec.Facts.CheckCounts(k.Fact) {
					made[key] = rec.Session
				}
			}
		}
		return made
	}
	made, there := collect(records), collect(beside)
	for _, r := range c.Runs {
		k := &r.Procedure.Checks
		for _, x := range []struct {
			wanted bool
			kind   rig.CheckKind
			what   string
		}{{k.Sound, rig.CheckSound, "calibration of the microphone"}, {k.Scale, rig.CheckScale, "check weight"}, {k.Clamp, rig.CheckClamp, "known load through the clamp"},
			{k.Supply, rig.CheckSupply, "voltage at the socket"}, {k.Water, rig.CheckWater, "flow of the water"}} {
			key := check{benchDay{r.Record.Bench, r.Day()}, x.kind}
			_, here := made[key]
			in, other := there[key]
			switch {
			case !x.wanted || here:
			case other:
				r.Remarks = append(r.Remarks, x.what+" for "+r.Day()+" is on record in session "+in)
			default:
				r.Remarks = append(r.Remarks, "no "+x.what+" on record for "+r.Day())
			}
		}
	}
}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}
