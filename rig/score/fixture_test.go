package score

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

// testLab is an invented lab small enough to work out by hand: two units, one procedure of two items,
// one test, one criterion that gives (100 s - run time)/10 points. Its uncertainties make round squares:
// a charge of 500 to 2000 g has 2 g2, a residue of up to 500 g in its vessel 6 g2, a sieve 7 g2.
func testLab(t testing.TB) *config.Lab {
	l := exampleLab(t)
	l.Units = l.Units[:2]
	s := &l.Bench.Scale
	s.DivisionG, s.Class, s.VerificationG, s.InService, s.RepeatabilityG = 1, "III", 1, true, 0.5
	l.Bench.Errors = config.Errors{LevelDB: 0.3, LevelCommonDB: 0.4, CurrentCommon: 0.02, StartS: 0.1, ClearS: 1, ReactionS: 0.3, HandLevelDB: 1}
	l.Procedures = []config.Procedure{{ID: "one", Clock: "motor-on", Repeats: 3,
		Items: []config.Item{{Name: "peel", MassG: 600, ToleranceG: 10}, {Name: "rice", MassG: 400, ToleranceG: 5}},
		After: config.After{Chamber: true, CoarseSieveMM: 12.5, FineSieveMM: 6.3, DrainS: 120, DrainToleranceS: 20,
			RetainedUG: 2, TransferUG: 1, WetTareUG: 1, OutputLow: 0.5, OutputHigh: 1.3}}}
	l.Scorecard = config.Scorecard{PointsOf: "run", Levels: "arithmetic", Missing: "reweight", Level: 0.95, Draws: 100, Seed: 1, Vary: 0.25}
	l.Scorecard.Tests = []config.Test{{ID: "grind", Procedure: "one", Weight: 1, Gated: true}}
	l.Scorecard.Criteria = []config.Criterion{linear("time", "grind", "run_time_s", 0, 10, 100, 0)}
	return l
}

// linear is a criterion of weight 1 with a curve of straight lines through (at, points) pairs.
func linear(id, test, measure string, curve ...float64) config.Criterion {
	k := config.Criterion{ID: id, Test: test, Measure: measure, Weight: 1, Shape: "linear", Outside: "flat"}
	for i := 0; i < len(curve); i += 2 {
		k.Curve = append(k.Curve, config.Anchor{At: curve[i], Points: curve[i+1]})
	}
	return k
}

func atMost(measure string, limit float64, repeats string) config.Gate {
	return config.Gate{Measure: measure, Side: "at-most", Limit: limit, Rule: "four-way", Band: 2, Repeats: repeats}
}

// told is run n of a unit by hand: facts are "target=new", or "measure.X=value~u".
func told(unit string, n int, facts ...string) rig.Record {
	rec := rig.Record{Session: fmt.Sprintf("%s-%d", unit, n), Unit: unit, Procedure: "one", Origin: rig.ByHand,
		Started: time.Date(2026, 4, 1, 8, n, 0, 0, time.UTC)}
	return say(rec, facts...)
}

// say appends corrections to a record.
func say(rec rig.Record, facts ...string) rig.Record {
	rec.Facts.Corrections = append([]rig.Correction(nil), rec.Facts.Corrections...)
	for _, f := range facts {
		target, now, _ := strings.Cut(f, "=")
		now, u, stated := strings.Cut(now, "~")
		k := rig.Correction{Fact: 100 + len(rec.Facts.Corrections), Target: target, New: now, Who: "tester", Why: "because"}
		if stated {
			v, err := strconv.ParseFloat(u, 64)
			if err != nil {
				panic(err)
			}
			k.U = rig.Fig(v)
		}
		rec.Facts.Corrections = append(rec.Facts.Corrections, k)
	}
	return rec
}

// weighed is a record of one detected run with the given weighings, numbered from 1.
func weighed(ws ...rig.Weighing) rig.Record {
	rec := rig.Record{Session: "s", Unit: "unit-a", Procedure: "one", Started: time.Date(2026, 4, 1, 8, 0, 0, 0, time.UTC)}
	rec.Result.Runs = []rig.Run{{StartS: rig.Fig(100), EndS: rig.Fig(160)}}
	for i, w := range ws {
		w.Fact = i + 1
		if w.AtS == 0 {
			w.AtS = float64(200 + i)
		}
		rec.Facts.Weighings = append(rec.Facts.Weighings, w)
	}
	return rec
}

// net is a net mass in a bowl of 412 g.
func net(role rig.Role, item string, g float64) rig.Weighing {
	return rig.Weighing{Role: role, Item: item, GrossG: rig.Fig(g + 412), TareG: rig.Fig(412)}
}

// only scores one record and returns its first run.
func only(t testing.TB, l *config.Lab, rec rig.Record) *Run {
	t.Helper()
	c := mustScore(t, l, []rig.Record{rec})
	if len(c.Runs) == 0 {
		t.Fatalf("no run: %v", c.Loose)
	}
	return c.Runs[0]
}

func near(a, b, within float64) bool { return math.Abs(a-b) <= within }

// same tells whether a value is v ±u to nine digits.
func same(t testing.TB, name string, got Value, v, u float64) {
	t.Helper()
	if !got.OK || !near(got.V, v, 1e-9*max(1, math.Abs(v))) || !near(got.U, u, 1e-9*max(1, u)) {
		t.Errorf("%s: got %.12g ±%.12g (%v %s), want %.12g ±%.12g", name, got.V, got.U, got.OK, got.Why, v, u)
	}
}

func lacks(t testing.TB, name string, got rig.Figure, why string) {
	t.Helper()
	if got.OK || got.V != 0 || got.Why != why {
		t.Errorf("%s: got %+v, want absent: %s", name, got, why)
	}
}

func remarked(r *Run, text string) bool {
	return strings.Contains(strings.Join(r.Remarks, "\n"), text)
}
