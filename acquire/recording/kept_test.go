package recording

import (
	"strings"
	"testing"
	"time"

	"quern/rig"
)

// A table that grew gives only its new rows; a row that was changed is neither taken again nor passed over.
func TestFreshRuns(t *testing.T) {
	day := time.Date(2025, 5, 3, 0, 0, 0, 0, time.UTC)
	row := func(line int, time, note string) HandRun {
		return HandRun{Line: line, Date: day, Who: "ann", Note: note, Measures: []HandMeasure{{"run_time_s", time}, {"left_share", "0.03"}}}
	}
	kept := func(name, time string) Kept {
		k := Kept{Name: name, Started: day, Facts: rig.Facts{Remarks: []rig.Remark{{Text: "slow"}}}}
		for target, v := range map[string]string{"measure.run_time_s": time, "measure.left_share": "0.030"} {
			k.Facts.Corrections = append(k.Facts.Corrections, rig.Correction{Target: target, New: v, Who: "ann", Why: "by hand"})
		}
		k.Facts.Corrections = append(k.Facts.Corrections, rig.Correction{Target: "measure.run_time_s", New: "1", Who: "bo", Why: "the stop watch ran on"}) // said later
		return k
	}
	later := row(2, "90", "")
	later.Date = day.Add(time.Hour)
	another := row(2, "90", "")
	another.Who = "bo"
	fewer := row(2, "90", "")
	fewer.Measures = fewer.Measures[:1]
	for name, c := range map[string]struct {
		rows  []HandRun
		kept  []Kept
		fresh []int // lines
		err   string
	}{
		"new":                {[]HandRun{row(2, "90", ""), row(3, "95", "")}, nil, []int{2, 3}, ""},
		"there":              {[]HandRun{row(2, "90.0", "slow")}, []Kept{kept("a", "90")}, nil, ""},
		"grown":              {[]HandRun{row(2, "95", ""), row(3, "90", "")}, []Kept{kept("a", "90")}, []int{2}, ""},
		"twice the same":     {[]HandRun{row(2, "90", ""), row(3, "90", "")}, []Kept{kept("a", "90")}, []int{3}, ""},
		"shorter":            {[]HandRun{row(2, "90", "")}, []Kept{kept("a", "95"), kept("b", "90")}, nil, ""},
		"changed":            {[]HandRun{row(2, "91", "")}, []Kept{kept("a", "90")}, nil, "old.csv:2: found a row that is on record otherwise: measure.run_time_s is 90, not 91, in session a"},
		"changed, and grown": {[]HandRun{row(2, "80", ""), row(3, "91", "")}, []Kept{kept("a", "90")}, nil, "old.csv:2: "},
		"another note":       {[]HandRun{row(2, "90", "fast")}, []Kept{kept("a", "90")}, nil, "another note"},
		"another time":       {[]HandRun{later}, []Kept{kept("a", "90")}, nil, "it began at 2025-05-03T00:00:00Z"},
		"another person":     {[]HandRun{another}, []Kept{kept("a", "90")}, nil, "taken by ann, not bo"},
		"a value less":       {[]HandRun{fewer}, []Kept{kept("a", "90")}, nil, "measure.left_share is 0.030"},
	} {
		fresh, err := FreshRuns("old.csv", c.rows, c.kept, "", "by hand")
		switch {
		case c.err != "":
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%s: %v, expected %q", name, err, c.err)
			}
			continue
		case err != nil || len(fresh) != len(c.fresh):
			t.Errorf("%s: %+v, %v, expected lines %v", name, fresh, err, c.fresh)
			continue
		}
		for i, r := range fresh {
			if r.Line != c.fresh[i] {
				t.Errorf("%s: %+v, expected lines %v", name, fresh, c.fresh)
			}
		}
	}
}
