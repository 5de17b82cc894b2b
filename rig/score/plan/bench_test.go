package plan

import (
	"fmt"
	"testing"
)

// 20 units, 3 procedures, 3 repeats: 180 runs.
func campaign180() Campaign {
	c := Campaign{Seed: 1, Control: Control{Unit: "unit-ref", Procedure: "balls", Minutes: 15, RestS: 600}}
	for i := range 20 {
		c.Units = append(c.Units, fmt.Sprintf("unit-%c", 'a'+i))
		c.Days = append(c.Days, Day{Label: fmt.Sprintf("day-%d", i+1), OpenMin: 540, Minutes: 480, Benches: []string{"bench-1"}})
	}
	for _, id := range []string{"mixed", "fish", "poultry"} {
		c.Procedures = append(c.Procedures, Procedure{ID: id, Repeats: 3, Minutes: 20, RestS: 1800, Batch: 10})
	}
	return c
}

func BenchmarkDraw(b *testing.B) {
	for b.Loop() {
		if _, err := Draw(campaign180()); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReplan(b *testing.B) {
	p, err := Draw(campaign180())
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := p.Replan([]Outcome{{Slot: 3, What: Void, Reason: "fed wrong"}}); err != nil {
			b.Fatal(err)
		}
	}
}
