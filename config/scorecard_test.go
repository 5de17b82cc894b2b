package config

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"quern/rig"
)

// A scorecard arrives as it is written: categories, tests, criteria and curves in order.
func TestScorecardArrives(t *testing.T) {
	l := mustRead(t, os.DirFS("../testdata/lab"))
	s := l.Scorecard
	if len(s.Categories) != 3 || len(s.Tests) != 5 || len(s.Criteria) != 13 {
		t.Fatalf("%d categories, %d tests, %d criteria", len(s.Categories), len(s.Tests), len(s.Criteria))
	}
	left := s.Criteria[1]
	want := []Anchor{{0, 10}, {0.01, 8}, {0.03, 4}, {0.05, 0}}
	if left.ID != "mixed-left" || left.Shape != "monotone" || left.Outside != "flat" || left.Weight != 2 || len(left.Curve) != len(want) {
		t.Fatalf("got %+v", left)
	}
	for i, a := range left.Curve {
		if a != want[i] {
			t.Errorf("point %d: got %+v, want %+v", i, a, want[i])
		}
	}
	if noise := s.Test("loudness"); noise == nil || noise.Gated || !s.Test("bones").Gated || s.Test("fish").Weight != 1 || s.Test("mixed-load").Weight != 2 {
		t.Errorf("tests: got %+v", s.Tests)
	}
}

// What a procedure weighs, and what a measure lacks, follow from its keys.
func TestProcedureTakes(t *testing.T) {
	l := mustRead(t, os.DirFS("../testdata/lab"))
	p := l.Procedure("mixed")
	if p.Charge() != 2500 {
		t.Errorf("the items make %g g, want 2500", p.Charge())
	}
	if got := p.Weighs(); len(got) != 3 || got[0] != rig.Chamber || got[1] != rig.Coarse || got[2] != rig.Fine {
		t.Errorf("weighs %v", got)
	}
	m, _ := rig.FindMeasure("passed_g")
	if got := p.lacks(m); len(got) != 1 || got[0] != "after.passed = true" {
		t.Errorf("passed_g lacks %v", got)
	}
}

// Every standard opening of the reference table is known by its designation (ASTM E11, ISO 3310-1).
func TestSieves(t *testing.T) {
	b, err := os.ReadFile("../testdata/reference/sieves.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(b)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows)-1 != len(Sieves) {
		t.Fatalf("%d rows, %v; want %d", len(rows)-1, err, len(Sieves))
	}
	for i, row := range rows[1:] {
		mm, err := strconv.ParseFloat(row[0], 64)
		if err != nil || Sieves[i].OpeningMM != mm || Sieves[i].US != row[1] {
			t.Errorf("%s mm, %s: got %+v", row[0], row[1], Sieves[i])
		}
		if w := SieveWords(mm); !strings.Contains(w, row[1]) {
			t.Errorf("%g mm is called %q", mm, w)
		}
	}
	if w := SieveWords(5); !strings.Contains(w, "no standard opening") {
		t.Errorf("5 mm is called %q", w)
	}
}

// Measures of the fixed set and those that a lab adds.
func TestMeasureNames(t *testing.T) {
	for name, want := range map[string]bool{"laeq_db": true, "left_share": true, "hand.build": true, "extra.water-temperature.mean": true,
		"extra.water": false, "extra.water.median": false, "hand.": false, "hand.-build": false, "": false, "LAeq": false, "extra..mean": false} {
		if _, ok := rig.FindMeasure(name); ok != want {
			t.Errorf("%q: known %v, want %v", name, ok, want)
		}
	}
	seen := map[string]bool{}
	for _, m := range rig.Measures {
		if seen[m.Name] || m.What == "" || m.Unit != "" && !strings.HasSuffix(m.Name, "_"+strings.ToLower(m.Unit)) {
			t.Errorf("%+v", m)
		}
		seen[m.Name] = true
	}
}
