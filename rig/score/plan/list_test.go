package plan

import (
	"bytes"
	"strings"
	"testing"

	"quern/rig"
)

func TestNext(t *testing.T) {
	c := small(5)
	c.Units, c.Control = c.Units[:2], Control{}
	c.Procedures = []Procedure{{ID: "mixed", Repeats: 3, Minutes: 25, RestS: 1800}}
	c.Days = []Day{{Label: "2026-11-03", OpenMin: 540, Minutes: 420, Benches: []string{"bench-1"}}, {Label: "2026-11-04", OpenMin: 540, Minutes: 20, Benches: []string{"bench-1", "bench-2"}}}
	p := mustDraw(t, c)
	first, second, third := p.Slots[0], p.Slots[1], p.Slots[2]
	done := []Outcome{{Slot: first.Number, What: Done, EndedMin: rig.Fig(571.5)}, {Slot: second.Number, What: Done}}
	day := first.Day
	for _, test := range []struct {
		name string
		done []Outcome
		at   At
		slot int
		wait int
	}{
		{"before the day opens", nil, At{day, "bench-1", 530}, first.Number, 10},
		{"first", nil, At{day, "bench-1", 545}, first.Number, 0},
		{"unit not rested: ended 09:31.5, so 30 min from 09:32", done, At{day, "bench-1", 590}, third.Number, 12},
		{"rested", done, At{day, "bench-1", 602}, third.Number, 0},
		{"other bench", nil, At{p.Days[1].Label, "bench-2", 545}, 0, 0},
		{"left over the next day", done, At{p.Days[1].Label, "bench-1", 545}, third.Number, 0},
		{"run on another day", []Outcome{{Slot: first.Number, What: Done, Day: p.Days[1].Label, EndedMin: rig.Fig(560)}, done[1]}, At{p.Days[1].Label, "bench-1", 570}, third.Number, 20},
	} {
		got, err := p.Next(test.done, test.at)
		if err != nil || got.Slot.Number != test.slot || got.WaitMin != test.wait {
			t.Errorf("%s: got slot %d, wait %d (%v), want %d, %d", test.name, got.Slot.Number, got.WaitMin, err, test.slot, test.wait)
		}
	}
	if third.Unit != first.Unit {
		t.Fatalf("slots 1 and 3 are of %s and %s: choose another seed", first.Unit, third.Unit)
	}
	if _, err := p.Next(nil, At{"monday", "bench-1", 0}); err == nil {
		t.Error("a day that is not in the plan passes")
	}
	q, err := p.Note(Unplanned{Day: day, Bench: "bench-1", Unit: first.Unit, Procedure: "mixed", StartMin: 500, Note: "camera trial"})
	if err != nil {
		t.Fatal(err)
	}
	if got, _ := q.Next(nil, At{day, "bench-1", 540}); got.WaitMin != 500+25+30-540 {
		t.Errorf("after an unplanned run the wait is %d min, want 15", got.WaitMin)
	}
	var list bytes.Buffer
	if err := q.List(&list, nil); err != nil || !strings.Contains(list.String(), "unplanned, does not count: "+day+", bench-1, 08:20, "+first.Unit+", mixed camera trial\n") {
		t.Errorf("%v\n%s", err, list.String())
	}
}
