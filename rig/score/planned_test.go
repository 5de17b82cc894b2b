package score

import (
	"slices"
	"testing"
	"time"

	"quern/rig"
	"quern/rig/score/plan"
)

// TestOutcomesOfTheirDay: a run takes the slot of its own day if there is one, so that a lost day leaves its own
// runs open and not those of the day after, which are done.
func TestOutcomesOfTheirDay(t *testing.T) {
	slot := func(number int, day, unit string) plan.Slot {
		return plan.Slot{Number: number, Day: day, Bench: "bench-1", Block: 1, Unit: unit, Procedure: "one", Repeat: 1}
	}
	p := plan.Plan{Slots: []plan.Slot{
		slot(1, "2026-04-01", "unit-a"), slot(2, "2026-04-01", "unit-b"), slot(3, "2026-04-01", "unit-a"),
		slot(4, "2026-04-02", "unit-b"), slot(5, "2026-04-02", "unit-a"), slot(6, "2026-04-03", "unit-a"),
	}}
	for _, test := range []struct {
		name string
		runs []string // unit and day of April
		want []int
	}{
		{"as planned", []string{"unit-a 1", "unit-b 1", "unit-a 1", "unit-b 2", "unit-a 2"}, []int{1, 2, 3, 4, 5}},
		{"the first day is lost", []string{"unit-b 2", "unit-a 2"}, []int{4, 5}},
		{"and made up for on the second", []string{"unit-a 2", "unit-a 2", "unit-a 2"}, []int{5, 1, 3}},
		{"ahead of its day", []string{"unit-a 1", "unit-a 1", "unit-a 1", "unit-a 2"}, []int{1, 3, 5, 6}},
		{"on a day without a plan", []string{"unit-a 9", "unit-b 9"}, []int{1, 2}},
		{"one too many", []string{"unit-b 1", "unit-b 1", "unit-b 2"}, []int{2, 4}},
	} {
		var records []rig.Record
		for i, r := range test.runs {
			rec := told(r[:6], i+1, "measure.run_time_s=50~1")
			rec.Started = time.Date(2026, 4, int(r[7]-'0'), 8, i, 0, 0, time.UTC)
			records = append(records, rec)
		}
		c, err := Score(testLab(t), records, nil)
		if err != nil {
			t.Fatal(err)
		}
		var got []int
		for _, o := range c.Outcomes(p) {
			got = append(got, o.Slot)
		}
		if !slices.Equal(got, test.want) {
			t.Errorf("%s: the runs take slots %v, want %v", test.name, got, test.want)
		}
	}
}
