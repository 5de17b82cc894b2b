package line_test

import (
	"errors"
	"fmt"

	"quern/rig/line"
)

func ExampleAppend() {
	text, err := line.Append(nil, line.Point{
		Measurement: "scale",
		Tags:        []line.Tag{{Key: "bench", Value: "bench 1"}, {Key: "unit", Value: "unit-a"}},
		Fields:      []line.Field{{Key: "mass_g", Value: line.FloatValue(812.5)}, {Key: "stable", Value: line.BoolValue(true)}},
		Time:        1700000004250000000,
		Timed:       true,
	})
	fmt.Print(string(text), err)
	// Output:
	// scale,bench=bench\ 1,unit=unit-a mass_g=812.5,stable=true 1700000004250000000
	// <nil>
}

func ExampleParse() {
	for i, text := range []string{"# opened", "scale mass_g=812.5 4250000000", "scale mass_g=812,5 4500000000"} {
		p, err := line.Parse([]byte(text))
		switch {
		case errors.Is(err, line.ErrNoPoint):
		case err != nil:
			fmt.Println(line.Fault("journal.lp", i+1, err))
		default:
			mass, _ := p.Field("mass_g").Float()
			fmt.Println(p.Measurement, mass)
		}
	}
	// Output:
	// scale 812.5
	// journal.lp:3:19: found a fault (want '=' after field key "5", found ' '), expected a line of line protocol: mend the line, or take it out
}
