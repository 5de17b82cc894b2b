package sim

import "quern/config"

// procedure is the one of the named scenarios.
func procedure() config.Procedure {
	p := config.DefaultProcedure("mixed")
	p.ChargeG = 2500
	return p
}

// plainBench is a good bench with a unit on it: the ground of the named scenarios.
func plainBench(name string, seed uint64, u Unit) Scenario {
	return Scenario{Name: name, Seed: seed, Unit: u,
		Procedure: procedure(),
		Supply:    Supply{VoltageV: 120, FrequencyHz: 60, OffsetHz: -0.012, WanderHz: 0.01, WanderV: 0.002, SourceOhm: 0.15},
		Sound:     Microphone{RateHz: 48000, Bits: 24, FullScaleDB: 120, RoomDBA: 41, FloorDBA: 20},
		Current:   Clamp{RateHz: 8000, Bits: 16, FullScaleA: 100, NoiseA: 0.012, PickupA: 0.008, OffsetA: 0.02},
		Mass:      Scale{RateHz: 10, DivisionG: 1, VibrateG: 1.5},
		TapDBA:    56, Clearing: [2]float64{1, 3}, TailS: 2.5, MaxS: 110}
}

// The acts of nearly every session.
var (
	mixedCharge  = Portion{SoftG: 260, Pieces: 4}
	secondCharge = Portion{SoftG: 180, Pieces: 5}
	lastCharge   = Portion{SoftG: 120, Pieces: 4}
)

func opening() []Act {
	return []Act{{Do: BowlOn, AtS: 0.8, Grams: 1400}, {Do: TapOn, AtS: 3.2}, {Do: SwitchOn, AtS: 4.4}}
}

func feeding() []Act {
	return []Act{{Do: Feed, After: Running, DelayS: 3.2, Portion: mixedCharge}, {Do: Feed, DelayS: 5, Portion: secondCharge}, {Do: Feed, DelayS: 5, Portion: lastCharge}}
}

func closing(flushS float64) []Act {
	return []Act{{Do: SwitchOff, After: Clear, DelayS: flushS}, {Do: TapOff, DelayS: 1}, {Do: BowlOff, DelayS: 0.5}}
}

func program(parts ...[]Act) []Act {
	var out []Act
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}

func acts(a ...Act) []Act { return a }

// scripts are the named scenarios: each a trap of the trade by itself.
func scripts() []struct {
	name string
	make func(s *Scenario)
} {
	off, on := Act{Do: SwitchOff}, Act{Do: SwitchOn}
	again := func(after Wait, delayS float64) Act { return Act{Do: SwitchOn, After: after, DelayS: delayS} }
	jamSoon := Act{Do: Jam, After: Running, DelayS: 3}
	later := func(a Act, delayS float64) Act { a.DelayS = delayS; return a }
	return []struct {
		name string
		make func(s *Scenario)
	}{
		{"plain", func(s *Scenario) { s.Acts = program(opening(), feeding(), closing(8)) }},
		{"stall-and-trip", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), acts(jamSoon, Act{Do: Unjam, After: Stopped, DelayS: 4}, again(Stopped, 10)), closing(8))
		}},
		{"stall-frees-itself", func(s *Scenario) {
			j := jamSoon
			j.HoldS = 1.1
			s.Acts = program(opening(), feeding(), acts(j), closing(8))
		}},
		{"short-stall-switched-off", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), acts(jamSoon, Act{Do: SwitchOff, After: Locked, DelayS: 1.4}, Act{Do: Unjam, DelayS: 2}, again(Stopped, 4)), closing(8))
		}},
		{"hot-trip", func(s *Scenario) {
			s.Unit.HotShare, s.Unit.CoolS = 0.92, 30
			s.Acts = program(opening(), feeding(), acts(jamSoon, Act{Do: Unjam, After: Stopped, DelayS: 4}, again(Stopped, 9)), closing(8))
		}},
		{"auto-reset", func(s *Scenario) {
			s.Unit.Resets, s.Unit.CoolS, s.Unit.TripS = true, 9, 4.5
			// It trips, cools and closes by itself on the piece that is still wedged, until somebody switches off.
			s.Acts = program(opening(), feeding(), acts(jamSoon, Act{Do: Nothing, After: Stopped, DelayS: 1}, Act{Do: SwitchOff, After: Locked, DelayS: 1.5}))
		}},
		{"failed-start", func(s *Scenario) {
			s.Acts = program(acts(Act{Do: TapOn, AtS: 3}, Act{Do: Jam, AtS: 3.5}, Act{Do: SwitchOn, AtS: 4}, Act{Do: SwitchOff, After: Locked, DelayS: 2, AtS: 6.2},
				Act{Do: Unjam, DelayS: 2}, again(Stopped, 4)), feeding(), closing(8))
		}},
		{"failed-start-trip", func(s *Scenario) {
			s.Acts = program(acts(Act{Do: TapOn, AtS: 3}, Act{Do: Jam, AtS: 3.5}, Act{Do: SwitchOn, AtS: 4}, Act{Do: Unjam, After: Stopped, DelayS: 3}, again(Stopped, 9)),
				feeding(), closing(8))
		}},
		{"overload", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), acts(Act{Do: Wad, DelayS: 2, HoldS: 4.5, Torque: s.Unit.torqueFor(1.5)}), closing(8))
		}},
		{"overload-trip", func(s *Scenario) {
			s.Unit.HotShare, s.Unit.TripS = 0.88, 2.2
			s.Acts = program(opening(), feeding(), acts(Act{Do: Wad, DelayS: 2, HoldS: 30, Torque: s.Unit.torqueFor(1.65)}, Act{Do: Empty, After: Stopped, DelayS: 3}, again(Stopped, 10),
				Act{Do: Feed, After: Running, DelayS: 3, Portion: mixedCharge}), closing(8))
		}},
		{"overload-to-stall", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), acts(Act{Do: Wad, DelayS: 2, HoldS: 30, Torque: s.Unit.torqueFor(1.5)}, Act{Do: Jam, After: Heavily, DelayS: 4}, Act{Do: Empty, After: Stopped, DelayS: 3},
				again(Stopped, 10), Act{Do: Feed, After: Running, DelayS: 3, Portion: mixedCharge}), closing(8))
		}},
		{"lull", func(s *Scenario) {
			s.Clearing = [2]float64{3, 4.5}
			s.Acts = program(opening(), acts(Act{Do: Feed, After: Running, DelayS: 3, Portion: Portion{SoftG: 200, Pieces: 3, Stubborn: 1, Loud: 20}}), closing(9))
		}},
		{"jog", func(s *Scenario) {
			s.Acts = program(opening(), acts(later(off, 0.35), later(on, 0.9), later(off, 0.3), later(on, 1.2)), feeding(), closing(8))
		}},
		{"pause", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), acts(later(off, 4), later(on, 6)), closing(8))
		}},
		{"restart-within-a-second", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), acts(later(off, 4), later(on, 0.6)), closing(8))
		}},
		{"switched-off-loaded", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), acts(later(off, 3), Act{Do: TapOff, DelayS: 1}))
		}},
		{"two-runs", func(s *Scenario) {
			s.Procedure.LongestPauseS = 5
			s.Acts = program(opening(), acts(Act{Do: Feed, After: Running, DelayS: 3, Portion: Portion{SoftG: 120, Pieces: 2}}), closing(7), acts(again(Stopped, 9)),
				acts(Act{Do: Feed, After: Running, DelayS: 3, Portion: Portion{SoftG: 120, Pieces: 2}}), closing(7))
		}},
		{"no-food", func(s *Scenario) {
			s.Acts = program(opening(), acts(later(off, 6), later(on, 3), later(off, 6), Act{Do: TapOff, DelayS: 1}))
		}},
		{"batch-feed", func(s *Scenario) {
			s.Acts = program(acts(Act{Do: Feed, AtS: 2, Portion: Portion{SoftG: 300, Pieces: 5}}, Act{Do: TapOn, AtS: 3}, Act{Do: SwitchOn, AtS: 4.5}), closing(8))
		}},
		{"other-appliance", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), closing(8))
			s.Mishaps = []Mishap{{Fridge, 1.2, 14, 1.1}, {Kettle, 24, 7, 5.1}}
		}},
		{"kettle-while-off", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), closing(8))
			s.Acts[1].AtS, s.Acts[2].AtS = 8, 9.5
			s.Mishaps = []Mishap{{Kettle, 1.5, 5, 8}, {Lamps, 3, 60, 0.25}}
		}},
		{"supply-dip", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), closing(8))
			s.Mishaps = []Mishap{{Dip, 7, 0.15, 0.35}, {Dip, 16, 0.3, 0.25}}
		}},
		{"dead-clamp", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), closing(8))
			s.Mishaps = []Mishap{{DeadClamp, 15, 5, 0}}
		}},
		{"claps-and-voices", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), closing(9))
			s.Mishaps = []Mishap{{Clap, 2.2, 0, 92}, {Clap, 6.4, 0, 95}, {Voice, 12, 4, 70}, {Voice, 27, 6, 68}, {Knock, 30, 0, 85}, {Clap, 33, 0, 94}}
		}},
		{"quiet-unit", func(s *Scenario) {
			u := UnitB()
			u.NoLoadDBA, u.GrindDBA, u.StallDBA = 55, 66, 44
			s.Unit, s.TapDBA = u, 58
			s.Acts = program(opening(), feeding(), closing(9))
		}},
		{"pm-motor", func(s *Scenario) { s.Unit = UnitC(); s.Acts = program(opening(), feeding(), closing(8)) }},
		{"pm-shut-off", func(s *Scenario) {
			s.Unit = UnitC()
			s.Acts = program(opening(), feeding(), acts(jamSoon, Act{Do: SwitchOff, After: Stopped, DelayS: 1}, Act{Do: Unjam, DelayS: 2}, again(Stopped, 5)), closing(8))
		}},
		{"pm-pulsing", func(s *Scenario) {
			s.Unit = UnitC()
			s.Unit.Pulsing, s.Unit.ShutOffS = true, 4
			s.Acts = program(opening(), feeding(), acts(jamSoon, Act{Do: SwitchOff, After: Stopped, DelayS: 1}, Act{Do: Unjam, DelayS: 2}, again(Stopped, 5)), closing(8))
		}},
		{"universal-motor", func(s *Scenario) { s.Unit = UnitD(); s.Acts = program(opening(), feeding(), closing(8)) }},
		{"universal-stall-and-trip", func(s *Scenario) {
			s.Unit = UnitD()
			s.Acts = program(opening(), feeding(), acts(jamSoon, Act{Do: Unjam, After: Stopped, DelayS: 4}, again(Stopped, 10)), closing(8))
		}},
		{"weak-clamp", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), closing(8))
			weaken(s)
		}},
		{"rms-readings", func(s *Scenario) {
			s.Acts = program(opening(), feeding(), closing(8))
			s.Current.Readings, s.Current.RateHz = true, 20
		}},
		{"no-microphone", func(s *Scenario) { s.Acts = program(opening(), feeding(), closing(8)); s.Sound.RateHz = 0 }},
		{"no-clamp", func(s *Scenario) { s.Acts = program(opening(), feeding(), closing(8)); s.Current.RateHz = 0 }},
	}
}

// weaken puts the clamp on a range on which the rated current is a hundredth of full scale.
func weaken(s *Scenario) {
	s.Current.FullScaleA = 100 * s.Unit.RatedCurrentA
	s.Current.Bits = 16
	s.Current.NoiseA = 0.012 * s.Unit.RatedCurrentA
	s.Current.PickupA = 0.008 * s.Unit.RatedCurrentA
}

// Names lists the named scenarios.
func Names() []string {
	var out []string
	for _, s := range scripts() {
		out = append(out, s.name)
	}
	return out
}

// Named returns a named scenario on unit-a, or on the unit that its name asks for; ok is false if there
// is none of that name.
func Named(name string, seed uint64) (sc Scenario, ok bool) {
	for _, s := range scripts() {
		if s.name == name {
			sc = plainBench(name, seed, UnitA())
			s.make(&sc)
			return sc, true
		}
	}
	return Scenario{}, false
}
