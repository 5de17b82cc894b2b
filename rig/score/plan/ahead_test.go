package plan

import (
	"slices"
	"testing"
)

// TestReplanAhead: what was run ahead of its turn keeps its planned time and holds up nothing: the day begins when
// it opens, and what is open keeps its time unless its bench or its unit is busy then.
func TestReplanAhead(t *testing.T) {
	slot := func(number int, day, unit string, start int) Slot {
		return Slot{Number: number, Day: day, Bench: "bench-1", Block: 1, Batch: "mixed-1", Unit: unit, Procedure: "mixed", Repeat: 1, StartMin: start, Why: Planned, Revision: 1}
	}
	p := Plan{Seed: 1, Revision: 1, Procedures: []Procedure{{ID: "mixed", Repeats: 2, Minutes: 20, RestS: 1800}},
		Days: []Day{{"2026-11-03", 540, 480, []string{"bench-1"}}, {"2026-11-04", 540, 480, []string{"bench-1"}}},
		Slots: []Slot{
			slot(1, "2026-11-03", "unit-a", 540), slot(2, "2026-11-03", "unit-b", 560), slot(3, "2026-11-03", "unit-c", 580),
			slot(4, "2026-11-04", "unit-b", 540), slot(5, "2026-11-04", "unit-c", 560), slot(6, "2026-11-04", "unit-a", 580), slot(7, "2026-11-04", "unit-c", 610),
		}}
	for _, test := range []struct {
		name string
		done []Outcome
		want []int // starts, of slots in their order
		wait []int
	}{
		{"in turn", []Outcome{{Slot: 1, What: Done}}, []int{540, 560, 580, 540, 560, 580, 610}, []int{0, 0, 0, 0, 0, 0, 10}},
		{"ahead of its turn", []Outcome{{Slot: 3, What: Done}}, []int{540, 560, 580, 540, 560, 580, 610}, []int{0, 0, 0, 0, 0, 0, 10}},
		{"ahead of its day", []Outcome{{Slot: 6, What: Done}}, []int{540, 560, 580, 540, 560, 580, 610}, []int{0, 0, 0, 0, 0, 0, 10}},
		{"one before it is dropped", []Outcome{{Slot: 6, What: Done}, {Slot: 4, What: Skipped, Reason: "it smoked"}},
			[]int{540, 560, 580, 540, 540, 580, 600}, []int{0, 0, 0, 0, 0, 0, 0}},
		{"the last of the day", []Outcome{{Slot: 7, What: Done}}, []int{540, 560, 580, 540, 560, 580, 610}, []int{0, 0, 0, 0, 0, 0, 0}},
	} {
		q, err := p.Replan(test.done)
		if err != nil {
			t.Fatal(err)
		}
		var got, wait []int
		for _, s := range q.Slots {
			got = append(got, s.StartMin)
			if s.What == Open && !q.leftOver(s, q.lastRunDay()) {
				wait = append(wait, s.WaitMin)
			} else {
				wait = append(wait, 0)
			}
		}
		if !slices.Equal(got, test.want) || !slices.Equal(wait, test.wait) {
			t.Errorf("%s: starts %v with waits %v, want %v and %v", test.name, got, wait, test.want, test.wait)
		}
	}
}
