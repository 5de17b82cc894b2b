package line_test

import (
	"fmt"
	"io"
	"strings"

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

func ExampleDecoder() {
	d := line.NewDecoder("journal.lp", strings.NewReader("# opened\nscale mass_g=812.5 4250000000\nscale mass_g=812,5 4500000000\n"))
	for {
		p, err := d.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			fmt.Println(err)
			continue
		}
		mass, _ := p.Field("mass_g").Float()
		fmt.Println(d.Line(), p.Measurement, mass)
	}
	// Output:
	// 2 scale 812.5
	// journal.lp:3:19: found a fault (want '=' after field key "5", found ' '), expected a line of line protocol: mend the line, or take it out
}
