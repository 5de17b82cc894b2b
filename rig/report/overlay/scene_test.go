package overlay

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"quern/rig"
)

func span(s rig.State, from, to float64) rig.Span {
	return rig.Span{State: s, FromS: rig.Fig(from), ToS: rig.Fig(to)}
}

func event(k rig.Kind, at float64) rig.Event {
	return rig.Event{Kind: k, AtS: rig.Fig(at), Sure: rig.Fig(0.9)}
}

// eventful is an invented run with a stall, an overload that trips, a pause and a stretch without a clamp.
func eventful() Scene {
	sc := Scene{Unit: "unit-a", Procedure: "mixed", Clock: "motor-on", LimitS: 100, EndS: 200,
		Result: rig.Result{Session: "invented", Runs: []rig.Run{{
			StartS: rig.Fig(4.2), EndS: rig.Fig(186.6), ElapsedS: rig.Fig(182.4), MotorOnS: rig.Fig(121.16), RunTimeS: rig.Fig(121.16),
			Events: []rig.Event{event(rig.MotorStart, 4.2), event(rig.LoadStart, 9.4), event(rig.StallStart, 24), event(rig.StallEnd, 28),
				event(rig.OverloadStart, 55), event(rig.OverloadEnd, 61), event(rig.Trip, 61), event(rig.MotorStart, 122.24),
				event(rig.LoadEnd, 176), event(rig.MotorStop, 186.6)},
			States: []rig.Span{span(rig.Starting, 4.2, 4.6), span(rig.NoLoad, 4.6, 9.4), span(rig.Loaded, 9.4, 24), span(rig.Stalled, 24, 28),
				span(rig.Loaded, 28, 40), span(rig.NoLoad, 40, 41.5), span(rig.Loaded, 41.5, 55), span(rig.Overloaded, 55, 61), span(rig.Tripped, 61, 122.24),
				span(rig.Starting, 122.24, 122.6), span(rig.Loaded, 122.6, 140), span(rig.Unknown, 140, 152), span(rig.Loaded, 152, 176), span(rig.NoLoad, 176, 186.6)},
			Sound: rig.Sound{LAeqDB: rig.Fig(82.349), LAeqCorrectedDB: rig.Fig(82.251), LAFmaxDB: rig.Fig(94.04)},
			Motor: rig.Motor{IdleA: rig.Fig(3.9), MeanA: rig.Fig(5.104), MaxA: rig.Fig(31.84)},
		}}},
	}
	rng := rand.New(rand.NewPCG(4, 5))
	states := statesOf(sc.Result.Runs)
	for k := range 20 * int(sc.EndS) {
		at := float64(k) / 20
		amps, level := 0.01, 42.0
		switch stateAt(states, at) {
		case rig.Starting, rig.Stalled:
			amps, level = 31, 78
		case rig.NoLoad:
			amps, level = 3.9, 74
		case rig.Loaded:
			amps, level = 4.5+math.Sin(at/3), 86
		case rig.Overloaded:
			amps, level = 9.5, 88
		case rig.Unknown:
			amps = math.NaN()
		}
		sc.Current.Add(at, amps+0.02*rng.NormFloat64())
		sc.Level.Add(at, level+0.8*rng.NormFloat64())
	}
	return sc
}

// jogged is an invented run in which the switch was jogged forty times, past the limit; its names are long.
func jogged() Scene {
	r := rig.Run{StartS: rig.Fig(1), EndS: rig.Fig(61), RunTimeS: rig.Fig(3725.96), Sound: rig.Sound{LAeqDB: rig.Fig(102.25), LAFmaxDB: rig.Fig(118.04)},
		Motor: rig.Motor{MeanA: rig.Fig(112.345), MaxA: rig.Fig(231.84)}}
	for i := range 40 {
		at := 1 + 1.5*float64(i)
		r.Events = append(r.Events, event(rig.MotorStart, at), event(rig.Trip, at+0.3))
		r.States = append(r.States, span(rig.Overloaded, at, at+0.3), span(rig.Tripped, at+0.3, at+1.5))
	}
	sc := Scene{Unit: "An Invented Name That Is Far Too Long For Any Picture, Mark Seventeen (unit-with-a-long-code)",
		Procedure: "a-procedure-with-a-rather-long-id-of-its-own", Clock: "elapsed", LimitS: 20, EndS: 70, Result: rig.Result{Runs: []rig.Run{r}}}
	for k := range 700 {
		sc.Level.Add(float64(k)/10, 112)
		sc.Current.Add(float64(k)/10, 150)
	}
	return sc
}

// bare is a session in which no run was found; it has no clamp.
func bare() Scene {
	sc := Scene{Unit: "unit-a", Procedure: "mixed", Clock: "motor-on", LimitS: 240, EndS: 10}
	for k := range 100 {
		sc.Level.Add(float64(k)/10, 40)
	}
	return sc
}

var looks = []Look{
	{Width: 1920, Height: 1080, Margin: 0.05}, {Width: 1080, Height: 1920, Margin: 0.05}, {Width: 640, Height: 360, Margin: 0.1},
	{Width: 360, Height: 640, Margin: 0.1}, {Width: 3840, Height: 2160, Margin: 0}, {Width: 1080, Height: 1080, Margin: 0.05},
	{Width: 1440, Height: 1080, Margin: 0.15}, {Width: 1080, Height: 1350, Margin: 0.15}, {Width: 2400, Height: 1000, Margin: 0.05},
}

func film(t testing.TB, sc Scene, l Look) *Film {
	t.Helper()
	f, err := NewFilm(sc, l)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// instants are those at which something happens, and a little before and after.
func instants(sc Scene) []float64 {
	out := []float64{-1, 0, 1.97, sc.EndS - 0.01, sc.EndS, sc.EndS + 3}
	for _, r := range sc.Result.Runs {
		for _, e := range r.Events {
			out = append(out, e.AtS.V-0.04, e.AtS.V, e.AtS.V+0.04, e.AtS.V+0.8)
		}
	}
	slices.Sort(out)
	return out
}
