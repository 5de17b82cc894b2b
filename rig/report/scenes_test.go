package report

import (
	"math"
	"math/rand/v2"

	"quern/rig"
)

// All sessions here are invented.

func ev(k rig.Kind, atS, withinS, sure float64, evidence string) rig.Event {
	return rig.Event{Kind: k, AtS: rig.Fig(atS), WithinS: rig.Fig(withinS), Sure: rig.Fig(sure), Evidence: evidence}
}

func span(s rig.State, fromS, toS float64) rig.Span {
	return rig.Span{State: s, FromS: rig.Fig(fromS), ToS: rig.Fig(toS)}
}

// eventful is a run with a stall, an overload, a trip, a pause and a stretch in which the clamp was lost.
func eventful() rig.Result {
	return rig.Result{
		Session: "invented-eventful", Unit: "unit-a", Procedure: "mixed",
		Runs: []rig.Run{{
			StartS: rig.Fig(4.21), EndS: rig.Fig(186.6), ElapsedS: rig.Fig(182.39), MotorOnS: rig.Fig(121.2), RunTimeS: rig.Fig(121.2),
			Events: []rig.Event{
				ev(rig.MotorStart, 4.21, 0.008, 0.99, "current rose from 0.02 A to 30.2 A"),
				ev(rig.LoadStart, 9.4, 0.2, 0.8, "current left its no-load band of 3.90 A ± 0.08 A"),
				ev(rig.StallStart, 24.1, 0.02, 0.95, "current stood above 0.7 of locked-rotor current for 0.8 s while the level fell by 9 dB"),
				ev(rig.StallEnd, 24.9, 0.02, 0.95, "current fell below 0.55 of locked-rotor current"),
				ev(rig.OverloadStart, 55, 0.05, 0.95, "current passed 7.50 A and stayed there for 2 s"),
				ev(rig.OverloadEnd, 61, 0.05, 0.95, "current stopped"),
				ev(rig.Trip, 61, 0.008, 0.7, "current stopped out of an overload of 6.0 s: presumed to be the protector"),
				ev(rig.MotorStart, 122.19, 0.008, 0.99, "current rose from 0.02 A to 29.8 A"),
				ev(rig.LoadEnd, 176.02, 0.5, 0.42, "from here on current, its phase and the sound were those of no load"),
				ev(rig.MotorStop, 186.6, 0.008, 0.98, "current fell to 0.02 A"),
			},
			States: []rig.Span{
				span(rig.Starting, 4.21, 4.6), span(rig.NoLoad, 4.6, 9.4), span(rig.Loaded, 9.4, 24.1), span(rig.Stalled, 24.1, 24.9),
				span(rig.Loaded, 24.9, 55), span(rig.Overloaded, 55, 61), span(rig.Tripped, 61, 122.19), span(rig.Starting, 122.19, 122.6),
				span(rig.Loaded, 122.6, 140), span(rig.Unknown, 140, 152), span(rig.Loaded, 152, 176.02), span(rig.NoLoad, 176.02, 186.6),
			},
			Sound: rig.Sound{LAeqDB: rig.Fig(82.31), LAFmaxDB: rig.Fig(94), LCpeakDB: rig.Fig(109.66)},
			Motor: rig.Motor{IdleA: rig.Fig(3.9), MeanA: rig.Fig(5.104), MaxA: rig.Fig(31.84), InrushA: rig.Fig(30.2), FrequencyHz: rig.Fig(59.981)},
		}},
		Warnings: []rig.Warning{
			{Code: "clamp-lost", Text: "current vanished at 140.00 s while the sound went on: the clamp is dead or unplugged; the motor's state is unknown from there"},
			{Code: "clamp-back", Text: "current came back at 152.00 s"},
		},
	}
}

// jogged is a short run in which the tester jogged the switch.
func jogged() rig.Result {
	r := rig.Run{StartS: rig.Fig(3), Motor: rig.Motor{IdleA: rig.Fig(3.9), MaxA: rig.Fig(31)}}
	on := 0.0
	for i := range 14 {
		at := 3 + 0.55*float64(i)
		r.Events = append(r.Events, ev(rig.MotorStart, at, 0.01, 0.95, ""), ev(rig.MotorStop, at+0.33, 0.01, 0.95, ""))
		r.States = append(r.States, span(rig.Starting, at, at+0.33), span(rig.Off, at+0.33, at+0.55))
		on += 0.33
	}
	at := 3 + 0.55*14
	r.Events = append(r.Events, ev(rig.MotorStart, at, 0.01, 0.95, ""), ev(rig.StallStart, at+0.02, 0.02, 0.9, ""),
		ev(rig.StallEnd, at+0.7, 0.02, 0.9, ""), ev(rig.LoadStart, at+0.72, 0.2, 0.6, ""), ev(rig.LoadEnd, at+2.2, 0.5, 0.4, ""), ev(rig.MotorStop, at+4, 0.01, 0.95, ""))
	r.States = append(r.States, span(rig.Starting, at, at+0.02), span(rig.Stalled, at+0.02, at+0.7), span(rig.Loaded, at+0.72, at+2.2), span(rig.NoLoad, at+2.2, at+4))
	r.EndS, r.ElapsedS, r.MotorOnS, r.RunTimeS = rig.Fig(at+4), rig.Fig(at+1), rig.Fig(on+4), rig.Fig(on+4)
	return rig.Result{Session: "invented-jogged", Unit: "unit-b", Procedure: "quick", Runs: []rig.Run{r}}
}

// long is a session of several runs, the second of 20 minutes.
func long() rig.Result {
	res := rig.Result{Session: "invented-long", Unit: "unit-c", Procedure: "endurance"}
	rng := rand.New(rand.NewPCG(3, 7))
	for i, s := range [][2]float64{{20, 95}, {200, 1400}, {1500, 1520}} {
		r := rig.Run{StartS: rig.Fig(s[0]), EndS: rig.Fig(s[1]), ElapsedS: rig.Fig(s[1] - s[0]), RunTimeS: rig.Fig(s[1] - s[0]), Motor: rig.Motor{IdleA: rig.Fig(3.9), MaxA: rig.Fig(9)}}
		add := func(k rig.Kind, at float64) {
			r.Events = append(r.Events, ev(k, at, 0.1, 0.9, ""))
		}
		add(rig.MotorStart, s[0])
		r.States = append(r.States, span(rig.Starting, s[0], s[0]+0.4), span(rig.NoLoad, s[0]+0.4, s[0]+5))
		add(rig.LoadStart, s[0]+5)
		at := s[0] + 5
		for i == 1 && at < s[1]-90 {
			next := at + 20 + 60*rng.Float64()
			r.States = append(r.States, span(rig.Loaded, at, next), span(rig.Stalled, next, next+0.6))
			add(rig.StallStart, next)
			add(rig.StallEnd, next+0.6)
			at = next + 0.6
		}
		r.States = append(r.States, span(rig.Loaded, at, s[1]-8), span(rig.NoLoad, s[1]-8, s[1]))
		add(rig.LoadEnd, s[1]-8)
		add(rig.MotorStop, s[1])
		res.Runs = append(res.Runs, r)
	}
	return res
}

// curves invents what the channels delivered of a result.
func curves(p Picture, endS float64) Picture {
	rng := rand.New(rand.NewPCG(1, 2))
	all := stretches(p.Result.Runs, 0, endS)
	state := func(at float64) (rig.State, float64) {
		for _, s := range all {
			if at >= s.fromS && at < s.toS {
				return s.state, at - s.fromS
			}
		}
		return rig.Off, 0
	}
	step := max(0.1, endS/20000)
	var thin Thin
	for at := 0.0; at < endS; at += step {
		s, since := state(at)
		level, current := 42.0, 0.02
		switch s {
		case rig.Starting:
			level, current = 74, 5+25*math.Exp(-since/0.15)
		case rig.NoLoad:
			level, current = 71, 3.9
		case rig.Loaded:
			level, current = 83+4*math.Sin(at), 4.6+0.8*math.Sin(at/7)
		case rig.Overloaded:
			level, current = 80, 8.6
		case rig.Stalled:
			level, current = 66, 31.5
		case rig.Unknown:
			level, current = 82, 0
		}
		level += 1.5 * rng.NormFloat64()
		p.Level.AtS, p.Level.V = append(p.Level.AtS, at), append(p.Level.V, level)
		p.LevelMax.AtS, p.LevelMax.V = append(p.LevelMax.AtS, at), append(p.LevelMax.V, level+3+3*rng.ExpFloat64())
		for i := range 4 {
			thin.Add(at+step*float64(i)/4, current*(1+0.01*rng.NormFloat64()))
		}
		if i := int(at / step); i%2 == 0 {
			p.Mass.AtS = append(p.Mass.AtS, at)
			p.Mass.V = append(p.Mass.V, math.Round(max(0, 2500*(1-at/(0.6*endS)))))
		}
	}
	p.Current = thin.Series()
	return p
}

// scenes returns all pictures that the tests draw.
func scenes() map[string]Picture {
	full := curves(Picture{Result: eventful(), Run: -1, LimitS: 240}, 195)
	one := curves(Picture{Result: eventful(), Run: 0, LimitS: 120, Title: "An invented unit with a name that goes on and on <and> has \"marks\" & signs in it, far beyond what the width of any picture could be asked to hold, and then some more"}, 195)
	one.Mass = Series{}
	jog := curves(Picture{Result: jogged(), Run: 0, LimitS: 9}, 18)
	twenty := curves(Picture{Result: long(), Run: 1, LimitS: 1140}, 1600)
	session := curves(Picture{Result: long(), Run: -1, LimitS: 60}, 1600)
	deaf := curves(Picture{Result: eventful(), Run: -1}, 195)
	deaf.Level, deaf.LevelMax = Series{}, Series{}
	deaf.Result.Warnings = []rig.Warning{{Code: "no-microphone", Text: "no sound was recorded: sound figures are absent, and the clear chamber is told from the current alone"}}
	heard := rig.Result{Session: "invented-heard", Unit: "unit-d", Procedure: "mixed",
		Runs: []rig.Run{{StartS: rig.Fig(10), EndS: rig.Fig(70), ElapsedS: rig.Fig(60), RunTimeS: rig.Fig(60), States: []rig.Span{span(rig.Unknown, 10, 70)},
			Events: []rig.Event{ev(rig.MotorStart, 10, 0.1, 0.6, ""), ev(rig.MotorStop, 70, 0.5, 0.4, "")}}},
		Warnings: []rig.Warning{{Code: "no-clamp", Text: "no current was recorded: motor figures are absent"}}}
	blind := curves(Picture{Result: heard, Run: -1}, 80)
	blind.Current, blind.Mass = Series{}, Series{}
	quiet := curves(Picture{Result: rig.Result{Session: "invented-quiet", Unit: "unit-e", Procedure: "mixed", Warnings: []rig.Warning{{Code: "no-run", Text: "no run was found"}}}, Run: -1}, 36000)
	return map[string]Picture{
		"eventful": full, "one-run": one, "jogged": jog, "twenty-minutes": twenty, "session": session,
		"no-sound": deaf, "no-current": blind, "ten-quiet-hours": quiet, "nothing": {Run: -1},
	}
}
