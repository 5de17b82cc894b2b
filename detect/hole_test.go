package detect_test

import (
	"fmt"
	"strings"
	"testing"

	"quern/rig"
)

// rmsRows are RMS readings at a step, without those between two instants; late(i) moves a reading.
func rmsRows(stepS, endS, fromS, toS float64, late func(i int) float64) []rig.Reading {
	var out []rig.Reading
	for i := range int(endS / stepS) {
		at := float64(i) * stepS
		if at > fromS && at < toS {
			continue
		}
		v := 0.0
		if at >= 10 && at < 50 {
			v = 4
		}
		out = append(out, rig.Reading{AtS: at + late(i), Value: v})
	}
	return out
}

// TestHolesInATable wants rows that are missing of a table told, and live instruments that stutter left alone.
func TestHolesInATable(t *testing.T) {
	even := func(int) float64 { return 0 }
	for _, c := range []struct {
		stepS, fromS, toS float64
		late              func(i int) float64
		want              string // what the only warning holds; "": none
	}{
		{0.1, 20, 22, even, "from 20.000 to 22.000 s"},
		{0.5, 20, 25, even, "from 20.000 to 25.000 s"},
		{1, 20, 30, even, "from 20.000 to 30.000 s"},
		{1, 20, 23, even, "from 20.000 to 23.000 s"},
		{0.1, 20, 20.3, even, "from 20.000 to 20.300 s"},
		{0.02, 20, 20.3, even, "from 20.000 to 20.300 s"},
		{0.02, 20, 20.2, even, ""}, // too short
		{0.1, 20, 20.2, even, ""},  // one row
		{1, 20, 22, even, ""},
		{0.1, 0, 0, even, ""},
		{0.1, 20, 22, func(i int) float64 { return 0.012 * float64(i%3) }, ""}, // times of arrival: the wide limit
		{0.1, 20, 23, func(i int) float64 { return 0.012 * float64(i%3) }, "23.0"},
		{0.1, 0, 0, func(i int) float64 { // a stutter: three come late, in a burst
			if i >= 200 && i < 205 {
				return 0.46 - 0.1*float64(i-200) + 0.001*float64(i-200)
			}
			return 0
		}, ""},
	} {
		t.Run(fmt.Sprint(c.stepS, c.toS-c.fromS), func(t *testing.T) {
			got := told(analyse(t, &takes{rows: rmsRows(c.stepS, 60, c.fromS, c.toS, c.late)}, setup()), "clamp-gap")
			if len(got) > 1 || (len(got) == 1) != (c.want != "") || len(got) == 1 && !strings.Contains(got[0], c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
	// A logger that goes over to another pace is told of once at most.
	rows := rmsRows(0.1, 20, 0, 0, even)
	for at := 20.0; at < 60; at += 0.5 {
		rows = append(rows, rig.Reading{AtS: at, Value: 4})
	}
	if got := told(analyse(t, &takes{rows: rows}, setup()), "clamp-gap"); len(got) > 1 {
		t.Errorf("another pace: got %q", got)
	}
}
