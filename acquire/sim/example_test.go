package sim_test

import (
	"errors"
	"fmt"
	"io"

	"quern/acquire/sim"
)

// A named scenario, played to its end, and what truly happened in it.
func ExampleNamed() {
	sc, _ := sim.Named("stall-and-trip", 1)
	bench, err := sim.New(sc)
	if err != nil {
		fmt.Println(err)
		return
	}
	samples := 0
	for {
		block, err := bench.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		samples += len(block.Samples)
	}
	fmt.Println(samples > 1e6)
	for _, e := range bench.Truth().Events {
		fmt.Println(e.Kind)
	}
	// Output:
	// true
	// motor_start
	// load_start
	// stall_start
	// stall_end
	// trip
	// motor_start
	// load_end
	// motor_stop
}
