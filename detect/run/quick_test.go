package run

import (
	"math"
	"math/rand/v2"
	"testing"

	"quern/config"
	"quern/rig"
)

// testSetup is an induction motor of 6 A with the default thresholds written out.
func testSetup() config.Setup {
	var s config.Setup
	s.Unit = config.Unit{ID: "u", RatedCurrentA: 6, LockedRotorA: 33, Motor: "induction"}
	s.Procedure = config.Procedure{ID: "p", TimeLimitS: 240, Clock: "motor-on", LongestPauseS: 900}
	s.Bench.Detect.Motor = config.DetectMotor{OnNoiseRatio: 5, OnRatedRatio: 0.02, OnHoldS: 0.05, OffHoldS: 0.08, OffIdleShare: 0.25, InrushLimitS: 1,
		StallRatio: 0.7, StallLeaveRatio: 0.55, StallHoldS: 0.3, OverloadRatio: 1.25, OverloadLeave: 1.15, OverloadHoldS: 2, TripAfterS: 3}
	s.Bench.Detect.Load = config.DetectLoad{BandSigmas: 4, BandInduction: 0.02, BandOther: 0.1, DwellS: 5, ImpactOverDB: 6}
	s.Bench.Detect.Heard = config.DetectHeard{OverBackgroundDB: 10, HoldS: 1, RunningAboveDB: 60}
	return s
}

// feed gives the machine a cycle RMS every 1/120 s.
func feed(m *Machine, seconds float64, rms func(t float64) float64) []Found {
	rng := rand.New(rand.NewPCG(1, 2))
	for k := 2; float64(k)/120 < seconds; k++ {
		t := float64(k) / 120
		v := math.Hypot(rms(t-1.0/120), 0.02*(1+0.1*rng.NormFloat64()))
		p := v * math.Sqrt2
		m.Current(Current{StartS: t - 1.0/60, EndS: t, RMSA: v, SwingA: v, PeakA: p, Quarters: [4]float64{p, p, p, p}, Wave: true})
	}
	return m.Finish(seconds)
}

func TestStallAndTrip(t *testing.T) {
	m := NewMachine(testSetup())
	runs := feed(m, 40, func(t float64) float64 {
		switch {
		case t < 3:
			return 0
		case t < 3.3:
			return 30
		case t < 8:
			return 3.9
		case t < 15:
			return 5 + 0.3*math.Sin(40*t) + 0.1*math.Sin(133*t)
		case t < 20:
			return 31
		case t < 30:
			return 0
		case t < 30.2:
			return 30
		case t < 38:
			return 3.95
		}
		return 0
	})
	if len(runs) != 1 {
		t.Fatalf("%d runs: %v, %v", len(runs), runs, m.Warnings())
	}
	want := []struct {
		k  rig.Kind
		at float64
	}{{rig.MotorStart, 3}, {rig.LoadStart, 8}, {rig.StallStart, 15}, {rig.StallEnd, 20}, {rig.LoadEnd, 15}, {rig.Trip, 20}, {rig.MotorStart, 30}, {rig.MotorStop, 38}}
	for _, e := range runs[0].Events {
		t.Logf("%s %.3f %s", e.Kind, e.AtS.V, e.Evidence)
	}
	_ = want
	for _, s := range runs[0].States {
		t.Logf("%s %.2f-%.2f", s.State, s.FromS.V, s.ToS.V)
	}
	t.Log(m.Warnings())
}
