package sim

import (
	"sort"

	"quern/rig"
)

// The definitions that the truth follows are those of the outer contract, with its defaults.
const (
	overRatio    = 1.25 // of the rated current
	overLeave    = 1.15
	overHoldS    = 2.0
	tripAfterS   = 3.0
	stallHoldS   = 0.3 // a shorter standstill is a bite
	loadLeast    = 0.01
	clearDwellS  = 5.0 // a shorter flush leaves a listener little to decide on
	closeRestart = 0.15
)

// Truth is what happened, exactly.
type Truth struct {
	Events    []rig.Event // of all runs, in order; evidence empty, within 0
	Runs      []TruthRun
	Ambiguous []Doubt // where the definitions themselves leave room; nothing found there is wrong
}

// TruthRun is one run. Sound and Motor hold the figures that the bench knows exactly: LAeqDB, LCeqDB,
// LAFmaxDB, LASmaxDB, LCpeakDB, BackgroundDB (only with Scenario.LevelTruth); IdleA, InrushA,
// FrequencyHz. The others are absent.
type TruthRun struct {
	StartS, EndS, MotorOnS float64
	Events                 []rig.Event
	Sound                  rig.Sound
	Motor                  rig.Motor
}

// Doubt is a stretch of time in which events of a kind (empty: of any kind) are a matter of opinion.
type Doubt struct {
	FromS, ToS float64
	Kind       rig.Kind
	Why        string
}

// Result returns the truth in the shape of a result, without warnings.
func (t Truth) Result(session, unit, procedure string) rig.Result {
	res := rig.Result{Session: session, Unit: unit, Procedure: procedure}
	for _, r := range t.Runs {
		res.Runs = append(res.Runs, rig.Run{StartS: rig.Fig(r.StartS), EndS: rig.Fig(r.EndS), ElapsedS: rig.Fig(r.EndS - r.StartS),
			MotorOnS: rig.Fig(r.MotorOnS), Events: r.Events, Sound: r.Sound, Motor: r.Motor})
	}
	return res
}

// inOrder sorts by time, and simultaneous events as rig.Kinds has them.
func inOrder(events []rig.Event) []rig.Event {
	rank := map[rig.Kind]int{}
	for i, k := range rig.Kinds {
		rank[k] = i
	}
	sort.SliceStable(events, func(a, b int) bool {
		x, y := events[a], events[b]
		if x.AtS.V != y.AtS.V {
			return x.AtS.V < y.AtS.V
		}
		return rank[x.Kind] < rank[y.Kind]
	})
	return events
}
