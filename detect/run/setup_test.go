package run_test

import "quern/config"

// setup is an induction motor of 6 A; thresholds are the defaults.
func setup() config.Setup {
	var s config.Setup
	s.Unit = config.Unit{ID: "u", RatedCurrentA: 6, LockedRotorA: 33, Motor: "induction"}
	s.Procedure = config.Procedure{ID: "p", TimeLimitS: 240, Clock: "motor-on", LongestPauseS: 900}
	s.Bench.Detect.Motor = config.DetectMotor{OnNoiseRatio: 5, OnRatedRatio: 0.02, OnHoldS: 0.05, OffHoldS: 0.08, OffIdleShare: 0.25, InrushLimitS: 1,
		StallRatio: 0.7, StallLeaveRatio: 0.55, StallHoldS: 0.3, OverloadRatio: 1.25, OverloadLeave: 1.15, OverloadHoldS: 2, TripAfterS: 3}
	s.Bench.Detect.Load = config.DetectLoad{BandSigmas: 4, BandInduction: 0.02, BandOther: 0.1, DwellS: 5, ImpactOverDB: 6}
	s.Bench.Detect.Heard = config.DetectHeard{OverBackgroundDB: 10, HoldS: 1, RunningAboveDB: 60}
	return s
}
