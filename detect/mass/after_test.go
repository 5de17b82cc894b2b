package mass_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"testing"

	"quern/detect/mass"
	"quern/rig"
)

// rule returns a value of the table of scale rules.
func rule(t *testing.T, subject, item string) string {
	f, err := os.Open("../../testdata/reference/scale_rules.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		if row[0] == subject && row[1] == item {
			return row[2]
		}
	}
	t.Fatalf("no rule %q, %q", subject, item)
	return ""
}

// The seconds after a weighing are judged by OIML R 76-1:2006 4.4.2 and A.4.12: within 1 e, two
// adjacent values, for 5 s (the table's rows, from memory).
func TestAfter(t *testing.T) {
	const stable = "stable for printing or storing"
	e := 0.0
	fmt.Sscan(rule(t, stable, "reading may differ from the final value by at most"), &e)
	if rule(t, stable, "values seen in the 5 s after") != "no more than two adjacent values" || e != 1 {
		t.Fatal("the rules are others")
	}
	for _, c := range []struct {
		name  string
		v     func(age float64) float64
		held  rig.Mark
		worst float64
	}{
		{"stays", level(0), rig.Yes, 0},
		{"one e to and fro", func(age float64) float64 { return e * math.Mod(math.Round(age*10), 2) }, rig.Yes, e},
		{"one e on both sides", func(age float64) float64 { return e * math.Round(math.Sin(age)) }, rig.No, e},
		{"drains", func(age float64) float64 { return -math.Round(age / 2) }, rig.No, 2},
		{"moves after 5 s only", func(age float64) float64 { return -2 * math.Floor(age/5.05) }, rig.Yes, 0},
		{"taken off too soon", func(age float64) float64 { return -400 * math.Floor(age/3) }, rig.Unsaid, 0},
	} {
		k := mass.NewTaker(mass.Settings{})
		settle(k, 0, 10, level(500), rig.Unsaid, false)
		if k.After() != (mass.After{}) {
			t.Errorf("%s: before any: %+v", c.name, k.After())
		}
		if _, err := k.Take(10, false); err != nil {
			t.Fatal(err)
		}
		until := map[rig.Mark]float64{rig.Unsaid: 13.5, rig.Yes: 20, rig.No: 20}[c.held]
		settle(k, 10.1, until, func(atS float64) float64 { return 500 + c.v(atS-10) }, rig.Unsaid, false)
		a := k.After()
		if a.OfS != 10 || a.Held != c.held || !(math.Abs(a.WorstG-c.worst) <= 1e-9) || (a.Held == rig.Yes) != (a.WatchedS == 5) {
			t.Errorf("%s: %+v", c.name, a)
		}
	}
}
