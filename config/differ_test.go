package config

import (
	"fmt"
	"testing"
)

func TestDifferences(t *testing.T) {
	setup := func() Setup {
		return Setup{Bench: DefaultBench(), Unit: DefaultUnit("unit-a"), Procedure: DefaultProcedure("mixed")}
	}
	if got := Differences(setup(), setup()); len(got) > 0 {
		t.Errorf("the same setups differ: %v", got)
	}
	a, b := setup(), setup()
	b.Bench.Detect.Load.DwellS = 3
	b.Unit.RatedCurrentA = 7.5
	a.Unit.RatedCurrentA = 6
	b.Procedure.Clock = "elapsed"
	a.Procedure.Clock = "motor-on"
	a.Bench.Microphone.SelfNoiseDB = 20
	b.Bench.Extra = []Extra{{ID: "water"}}
	got := map[string]string{}
	for _, d := range Differences(a, b) {
		got[d.Of+" "+d.Key] = d.Old + " | " + d.New
	}
	if len(got) != 5 {
		t.Errorf("%v", got)
	}
	for key, want := range map[string]string{
		"bench.toml detect.load.dwell_s":      "5.0 s | 3.0 s",
		"bench.toml microphone.self_noise_db": "20.0 dB(A) | absent",
		"bench.toml extra":                    "0 | 1",
		"unit unit-a rated_current_a":         "6.0 A | 7.5 A",
		"procedure mixed clock":               `"motor-on" | "elapsed"`,
	} {
		if got[key] != want {
			t.Errorf("%s: %q, expected %q; all: %s", key, got[key], want, fmt.Sprint(got))
		}
	}
}
