package plan

import (
	"bytes"
	"reflect"
	"strings"
	"testing"
)

// A campaign whose last run is void goes on on an extra day, opened by its control.
func TestReplanExtraDay(t *testing.T) {
	c := small(5)
	for i := range c.Days {
		c.Days[i].Minutes = 250 // a control, 5 runs of 25 min, 5 of 20: 240 min
	}
	p := mustDraw(t, c)
	var done []Outcome
	for _, s := range p.Slots {
		done = append(done, Outcome{Slot: s.Number, What: Done})
	}
	done[len(done)-1] = Outcome{Slot: len(done), What: Void, Reason: "power cut"}
	p, err := p.Replan(done)
	if err != nil {
		t.Fatal(err)
	}
	n := len(p.Slots)
	if a, b := p.Slots[n-2], p.Slots[n-1]; a.Why != IsControl || a.Day != "extra-1" || b.Day != "extra-1" || b.Number != n {
		t.Errorf("got %+v and %+v", a, b)
	}
	rested(t, c, p)
	if q, err := Read(strings.NewReader(written(t, p)), "plan.csv"); err != nil || !reflect.DeepEqual(p, q) {
		t.Errorf("does not read back: %v", err)
	}
}

// A rest longer than the night moves the extra day on.
func TestReplanExtraDayRested(t *testing.T) {
	c := small(5)
	c.Units, c.Control, c.Days = c.Units[:1], Control{}, c.Days[:1]
	c.Procedures = []Procedure{{ID: "mixed", Repeats: 1, Minutes: 400, RestS: 3 * 86400}}
	p, err := mustDraw(t, c).Replan([]Outcome{{Slot: 1, What: Void, Reason: "power cut"}})
	if err != nil || p.Slots[1].Day != "extra-4" {
		t.Errorf("got %+v (%v), want day extra-4", p.Slots, err)
	}
	rested(t, c, p)
}

// What was left over from a day that ended early has no time of its own any more: it is next once the
// control has opened the new day, or is voided and replaced.
func TestReplanLeftOver(t *testing.T) {
	c := small(5)
	p := mustDraw(t, c)
	var done []Outcome
	left := 0
	for _, s := range p.Slots {
		if s.Day == "2026-11-03" && s.Number < 11 {
			done = append(done, Outcome{Slot: s.Number, What: Done})
		} else if s.Day == "2026-11-03" {
			left = s.Number
		}
	}
	if left != 11 {
		t.Fatalf("slot %d ends the first day, want 11", left)
	}
	at := At{"2026-11-04", "bench-1", 540}
	if got, err := p.Next(done, at); err != nil || got.Slot.Why != IsControl || got.Slot.Number != 12 {
		t.Errorf("next is %+v (%v), want the control", got, err)
	}
	done = append(done, Outcome{Slot: 12, What: Done})
	at.Minute += 15
	if got, err := p.Next(done, at); err != nil || got.Slot.Number != 11 || got.WaitMin != 0 {
		t.Errorf("next is %+v (%v), want slot 11", got, err)
	}
	q, err := p.Replan(done)
	if err != nil || q.Slots[10].StartMin != p.Slots[10].StartMin || q.Slots[12] != p.Slots[12] {
		t.Errorf("slot 11 became %+v, 13 %+v (%v)", q.Slots[10], q.Slots[12], err)
	}
	var list bytes.Buffer
	if err := q.List(&list, nil); err != nil || !strings.Contains(list.String(), "left over") {
		t.Errorf("%v\n%s", err, list.String())
	}
	q, err = q.Replan([]Outcome{{Slot: 11, What: Void, Reason: "the day was over"}})
	if err != nil {
		t.Fatal(err)
	}
	if s := replacement(t, q, q.Slots[10]); s.Day == "2026-11-03" {
		t.Errorf("got %+v, want a later day", s)
	}
	rested(t, c, q)
}

func TestReplanControl(t *testing.T) {
	p := mustDraw(t, small(5))
	p, err := p.Replan([]Outcome{{Slot: 1, What: Void, Reason: "hose off"}})
	if err != nil {
		t.Fatal(err)
	}
	if s := p.Slots[1]; s.Why != "replaces 1" || s.Unit != "unit-r" || s.StartMin != 540+15+10 || s.WaitMin != 10 {
		t.Errorf("got %+v, want the control again when it has rested", s)
	}
	rested(t, small(5), p)
	var done []Outcome
	for _, s := range p.Slots {
		if s.Day == "2026-11-03" {
			done = append(done, Outcome{Slot: s.Number, What: Done})
		}
	}
	done[len(done)-1] = Outcome{Slot: 1, What: Void, Reason: "hose off"}
	if q, err := p.Replan(done); err != nil || len(q.Slots) != len(p.Slots) {
		t.Errorf("a day that is over has %d slots more (%v)", len(q.Slots)-len(p.Slots), err)
	}
}
