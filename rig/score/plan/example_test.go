package plan_test

import (
	"fmt"
	"os"

	"quern/rig/score/plan"
)

// Three invented units, two days: draw, look what is next, void a run, go on.
func Example() {
	p, err := plan.Draw(plan.Campaign{
		Units:      []string{"unit-a", "unit-b", "unit-c"},
		Procedures: []plan.Procedure{{ID: "mixed", Repeats: 2, Minutes: 25, RestS: 3600, Batch: 4}},
		Days: []plan.Day{
			{Label: "2026-11-03", OpenMin: 9 * 60, Minutes: 240, Benches: []string{"bench-1"}},
			{Label: "2026-11-04", OpenMin: 9 * 60, Minutes: 240, Benches: []string{"bench-1"}},
		},
		Control: plan.Control{Unit: "unit-r", Procedure: "balls", Minutes: 15, RestS: 600},
		Seed:    42,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	done := []plan.Outcome{
		{Slot: 1, What: plan.Done},
		{Slot: 2, What: plan.Void, Reason: "the clamp was open"},
		{Slot: 3, What: plan.Done},
	}
	if p, err = p.Replan(done); err != nil {
		fmt.Println(err)
		return
	}
	if err := p.List(os.Stdout, nil); err != nil {
		fmt.Println(err)
	}
	turn, err := p.Next(nil, plan.At{Day: "2026-11-03", Bench: "bench-1", Minute: 10*60 + 5})
	fmt.Println("\nnext:", turn.Slot.Number, turn.Slot.Unit, "in", turn.WaitMin, "min", err)
	b := p.Balance()
	fmt.Printf("least rest %.0f min, %d of %d blocks hold every unit\n", b.LeastRest.V, b.WholeBlocks, b.Blocks)
	// Output:
	// Run order, seed 42, revision 2: 6 of 9 runs left
	//
	// 2026-11-03, bench-1, 09:00 to 13:00
	//     1  09:00  unit-r  balls  control, done
	//   block 1, food batch mixed-1
	//     2  09:15  unit-a  mixed  repeat 1, void: the clamp was open
	//     3  09:40  unit-b  mixed  repeat 1, done
	// >   4  10:05  unit-c  mixed  repeat 1
	//     9  10:40  unit-a  mixed  repeat 1, replaces 2, not before 10:40, the bench waits 10 min
	//
	// 2026-11-04, bench-1, 09:00 to 13:00
	//     5  09:00  unit-r  balls  control
	//   block 2, food batch mixed-2
	//     6  09:15  unit-b  mixed  repeat 2
	//     7  09:40  unit-c  mixed  repeat 2
	//     8  10:05  unit-a  mixed  repeat 2
	//
	// next: 4 unit-c in 0 min <nil>
	// least rest 60 min, 2 of 2 blocks hold every unit
}
