package config_test

import (
	"fmt"
	"os"
	"testing/fstest"

	"quern/config"
)

// What is in force for one unit under one procedure.
func ExampleRead() {
	lab, err := config.Read(os.DirFS("../testdata/lab"))
	if err != nil {
		fmt.Println(err)
		return
	}
	set, err := lab.Setup("unit-a", "mixed")
	if err != nil {
		fmt.Println(err)
		return
	}
	overloadA := set.Bench.Detect.Motor.OverloadRatio * set.Unit.RatedCurrentA
	fmt.Printf("%s: overload from %.1f A\n", set.Unit.ID, overloadA)
	// Output: unit-a: overload from 7.5 A
}

// Everything that is wrong is told at once.
func ExampleRead_wrong() {
	_, err := config.Read(fstest.MapFS{
		"bench.toml":            {Data: []byte("[supply]\nvoltage_mv = 120000\nfrequency_hz = 6\n")},
		"units.toml":            {Data: []byte("[[unit]]\nid = \"unit-a\"\nrated_current_a = 6.0\n")},
		"procedures/mixed.toml": {Data: []byte("id = \"mixed\"\n")},
		"scorecard.toml":        {},
	})
	fmt.Println(err)
	// Output:
	// bench.toml:2:1: found unknown key "voltage_mv" in [supply], expected one of voltage_v, frequency_hz: did you mean voltage_v, in V?
	// bench.toml:3:1: found supply.frequency_hz = 6, expected a number from 45 to 65 Hz
}

// The defaults, for a bench that sets nothing.
func ExampleDefaultDetect() {
	d := config.DefaultDetect()
	fmt.Printf("stall from %g of the locked-rotor current for %g s\n", d.Motor.StallRatio, d.Motor.StallHoldS)
	// Output: stall from 0.7 of the locked-rotor current for 0.3 s
}
