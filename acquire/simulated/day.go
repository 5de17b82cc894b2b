package simulated

import "quern/acquire/sim"

// DayName is the name of a day of testing among the scenarios that can be played.
const DayName = "day"

// dayPlays is what happens on the day, one session each: unit after unit, and most of it goes well.
var dayPlays = []string{"plain", "quiet-unit", "pm-motor", "universal-motor", "stall-and-trip", "quiet-unit", "pm-motor", "universal-stall-and-trip", "pause", "overload"}

// Playing returns how a scenario is drawn again and again: that one always, or a whole day of them. ok is false if there is
// none of that name.
func Playing(name string) (draw func(seed uint64) sim.Scenario, ok bool) {
	if name == DayName {
		return func(seed uint64) sim.Scenario {
			sc, _ := sim.Named(dayPlays[(seed-1)%uint64(len(dayPlays))], seed) // that each is there, a test sees to
			return unhurried(sc)
		}, true
	}
	if _, ok := sim.Named(name, 1); !ok {
		return nil, false
	}
	return func(seed uint64) sim.Scenario {
		sc, _ := sim.Named(name, seed)
		return unhurried(sc)
	}, true
}

// betweenS is the quiet after a run, before the tester ends the session, s: so much is to be seen of what comes next.
const betweenS = 12

func unhurried(sc sim.Scenario) sim.Scenario {
	sc.MaxS += betweenS - sc.TailS
	sc.TailS = betweenS
	return sc
}

// Names lists what can be played.
func Names() []string { return append([]string{DayName}, sim.Names()...) }
