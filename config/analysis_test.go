package config

import (
	"bytes"
	"strings"
	"testing"
)

// What an analysis looks at makes another key of it; what it does not look at leaves those in force that lie there.
func TestForAnalysis(t *testing.T) {
	start := Setup{Bench: DefaultBench(), Unit: DefaultUnit("unit-a"), Procedure: DefaultProcedure("mixed")}
	key := func(s Setup) string { return string(s.ForAnalysis().TOML()) }
	for name, c := range map[string]struct {
		change func(s *Setup)
		looked bool
	}{
		"bench's name":      {func(s *Setup) { s.Bench.Name += "x" }, true},
		"voltage":           {func(s *Setup) { s.Bench.Supply.VoltageV++ }, true},
		"frequency":         {func(s *Setup) { s.Bench.Supply.FrequencyHz++ }, true},
		"a threshold":       {func(s *Setup) { s.Bench.Detect.Motor.OverloadHoldS++ }, true},
		"full scale":        {func(s *Setup) { s.Bench.Microphone.FullScaleDB++ }, true},
		"own noise":         {func(s *Setup) { s.Bench.Microphone.SelfNoiseDB++ }, true},
		"clamp":             {func(s *Setup) { s.Bench.Clamp.FullScaleA++ }, true},
		"scale":             {func(s *Setup) { s.Bench.Scale.DivisionG++ }, true},
		"extra":             {func(s *Setup) { s.Bench.Extra = []Extra{{ID: "extra-a"}} }, true},
		"unit":              {func(s *Setup) { s.Unit.ID = "unit-b" }, true},
		"rated current":     {func(s *Setup) { s.Unit.RatedCurrentA++ }, true},
		"locked rotor":      {func(s *Setup) { s.Unit.LockedRotorA = 40 }, true},
		"motor":             {func(s *Setup) { s.Unit.Motor = "universal" }, true},
		"procedure":         {func(s *Setup) { s.Procedure.ID = "fish" }, true},
		"limit":             {func(s *Setup) { s.Procedure.TimeLimitS++ }, true},
		"clock":             {func(s *Setup) { s.Procedure.Clock = "elapsed" }, true},
		"charge":            {func(s *Setup) { s.Procedure.ChargeG++ }, true},
		"pause":             {func(s *Setup) { s.Procedure.LongestPauseS++ }, true},
		"vessels":           {func(s *Setup) { s.Bench.Vessels = []Vessel{{ID: "bowl", DryG: 1}} }, false},
		"time zone":         {func(s *Setup) { s.Bench.TimeZone = "Europe/Berlin" }, false},
		"release":           {func(s *Setup) { s.Unit.Name, s.Unit.Release = "A Name", "2026-01-01" }, false},
		"gates":             {func(s *Setup) { s.Procedure.Gates = []Gate{{Measure: "trips"}} }, false},
		"time to drain":     {func(s *Setup) { s.Procedure.After.DrainS++ }, false},
		"device":            {func(s *Setup) { s.Bench.Microphone.Device.Kind = "alsa" }, false},
		"closing a session": {func(s *Setup) { s.Bench.Record.CloseAfter++ }, false},
	} {
		s := start
		if c.change(&s); (key(s) != key(start)) != c.looked {
			t.Errorf("%s: another key %v, want %v", name, !c.looked, c.looked)
		}
	}
}

// What a session holds is checked as a lab is, and a gate is put into words by its rule.
func TestSetupOfASession(t *testing.T) {
	s := Setup{Bench: DefaultBench(), Unit: DefaultUnit("unit-a"), Procedure: DefaultProcedure("mixed")}
	s.Unit.RatedCurrentA, s.Unit.LockedRotorA, s.Unit.Motor = 6, 33, "induction"
	text := s.TOML()
	if _, err := ReadSetup("settings.toml", text); err != nil {
		t.Fatal(err)
	}
	for from, to := range map[string]string{"locked_rotor_a = 33": "locked_rotor_a = 3", "overload_ratio = 1.25": "overload_ratio = 1.01"} {
		if !bytes.Contains(text, []byte(from)) {
			t.Fatalf("no %s in\n%s", from, text)
		}
		if _, err := ReadSetup("settings.toml", bytes.Replace(text, []byte(from), []byte(to), 1)); err == nil || !strings.HasPrefix(err.Error(), "settings.toml:") {
			t.Errorf("%s: %v", to, err)
		}
	}
	for want, g := range map[string]Gate{
		"left_share at most 5~%, the limit alone deciding":                                 {Measure: "left_share", Side: "at-most", Limit: 0.05, Rule: "simple"},
		"left_share at most 5~%, passed only inside the limit by 2 standard uncertainties": {Measure: "left_share", Side: "at-most", Limit: 0.05, Rule: "guarded", Band: 2},
		"laeq_db at most 80~dB, said to be close within 2 standard uncertainties":          {Measure: "laeq_db", Side: "at-most", Limit: 80, Rule: "four-way", Band: 2},
		"fine_of_input at least 50~%, said to be close within 2 standard uncertainties":    {Measure: "fine_of_input", Side: "at-least", Limit: 0.5, Rule: "four-way", Band: 2},
		"trips at most 0": {Measure: "trips", Side: "at-most", Rule: "guarded", Band: 2},
	} {
		if got := g.Words(); !strings.HasPrefix(got, want) {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
