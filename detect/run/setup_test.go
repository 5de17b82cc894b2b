package run_test

import "quern/config"

// setup is an invented induction motor of 6 A; thresholds are the defaults.
func setup() config.Setup {
	s := config.Setup{Bench: config.DefaultBench()}
	s.Unit = config.Unit{ID: "u", RatedCurrentA: 6, LockedRotorA: 33, Motor: "induction"}
	s.Procedure = config.Procedure{ID: "p", TimeLimitS: 240, Clock: "motor-on", LongestPauseS: 900}
	return s
}
