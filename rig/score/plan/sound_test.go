package plan

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
)

// seeds is how many campaigns a property is tried on.
func seeds() uint64 {
	if testing.Short() {
		return 100
	}
	if os.Getenv("QUERN_WHOLE") == "" {
		return 500
	}
	return 2000
}

// invented makes a campaign of invented units: 1 to 25 of them, 1 to 4 procedures, 1 to 5 repeats, and
// as many days as surely hold it.
func invented(seed uint64) Campaign {
	r := rand.New(rand.NewPCG(seed, 0))
	c := Campaign{Seed: seed}
	for i := range 1 + r.IntN(25) {
		c.Units = append(c.Units, fmt.Sprintf("unit-%c", 'a'+i))
	}
	most := 0
	for i := range 1 + r.IntN(4) {
		q := Procedure{ID: fmt.Sprintf("load-%d", i+1), Repeats: 1 + r.IntN(5), Minutes: 10 + r.IntN(30), RestS: r.IntN(3) * r.IntN(2500), Batch: r.IntN(3) * (1 + r.IntN(12))}
		c.Procedures = append(c.Procedures, q)
		most += len(c.Units) * q.Repeats * (q.Minutes + restMin(q.RestS))
	}
	benches := []string{"bench-1", "bench-2", "bench-3"}[:1+r.IntN(3)]
	for i := range 2 + most/400 + r.IntN(4) {
		c.Days = append(c.Days, Day{Label: fmt.Sprintf("day-%d", i+1), OpenMin: 9 * 60, Minutes: 480, Benches: benches})
	}
	if r.IntN(2) == 0 {
		c.Control = Control{Unit: "unit-r", Procedure: "balls", Minutes: 12, RestS: 900}
	}
	return c
}

func mustDraw(t *testing.T, c Campaign) Plan {
	t.Helper()
	p, err := Draw(c)
	if err != nil {
		t.Fatalf("seed %d: %v", c.Seed, err)
	}
	return p
}

// sound checks what holds of every plan, first or re-planned.
func sound(t *testing.T, c Campaign, p Plan) {
	t.Helper()
	counts := map[string]int{}
	for _, s := range p.Slots {
		if s.Block > 0 && s.What != Void && !s.takenBack() {
			counts[fmt.Sprint(s.Unit, " ", s.Procedure, " ", s.Repeat)]++
		}
	}
	want := 0
	for _, u := range c.Units {
		for _, q := range c.Procedures {
			for r := 1; r <= q.Repeats; r++ {
				want++
				if n := counts[fmt.Sprint(u, " ", q.ID, " ", r)]; n != 1 {
					t.Fatalf("seed %d: %s %s repeat %d stands %d times", c.Seed, u, q.ID, r, n)
				}
			}
		}
	}
	if len(counts) != want {
		t.Fatalf("seed %d: %d different runs, want %d", c.Seed, len(counts), want)
	}
	rested(t, c, p)
	blocked(t, c, p)
}

// rested checks, apart from the code's own clock, that no two runs overlap at a bench, that no unit
// runs before it has rested, and that all end by the day's end.
func rested(t *testing.T, c Campaign, p Plan) {
	t.Helper()
	type stretch struct{ from, to, rested int }
	units, benches := map[string][]stretch{}, map[string][]stretch{}
	for _, s := range p.Slots {
		if s.What == Skipped {
			continue
		}
		day := slices.IndexFunc(p.Days, func(d Day) bool { return d.Label == s.Day })
		minutes, restS := c.Control.Minutes, c.Control.RestS
		for _, q := range c.Procedures {
			if s.Block > 0 && q.ID == s.Procedure {
				minutes, restS = q.Minutes, q.RestS
			}
		}
		from := (day*24*60 + s.StartMin) * 60
		run := stretch{from, from + minutes*60, from + minutes*60 + restS}
		if out := s.StartMin+minutes > p.Days[day].OpenMin+p.Days[day].Minutes; s.StartMin < p.Days[day].OpenMin || out && c.Seed%4 > 0 {
			t.Fatalf("seed %d: slot %d outside its day", c.Seed, s.Number)
		}
		units[s.Unit] = append(units[s.Unit], run)
		benches[s.Bench] = append(benches[s.Bench], stretch{run.from, run.to, run.to})
	}
	for i, of := range []map[string][]stretch{units, benches} {
		for who, runs := range of {
			if i == 0 || c.Seed%4 == 0 { // else those of a bench stay in the order of the plan
				slices.SortFunc(runs, func(a, b stretch) int { return a.from - b.from })
			}
			for i, r := range runs[1:] {
				if r.from < runs[i].rested {
					t.Fatalf("seed %d: %s runs at %d s, and is free at %d s", c.Seed, who, r.from, runs[i].rested)
				}
			}
		}
	}
}

// blocked checks that a block holds one procedure on one day and bench, and no more than its batch.
func blocked(t *testing.T, c Campaign, p Plan) {
	t.Helper()
	for _, s := range p.Slots {
		n := 0
		for _, o := range p.Slots {
			if o.Block != s.Block || s.Block == 0 {
				continue
			}
			if o.What != Skipped {
				n++
			}
			if o.Day != s.Day || o.Bench != s.Bench || o.Procedure != s.Procedure || o.Batch != s.Batch {
				t.Fatalf("seed %d: slots %d and %d share block %d", c.Seed, s.Number, o.Number, s.Block)
			}
		}
		for _, q := range c.Procedures {
			if q.ID == s.Procedure && s.Block > 0 && q.Batch > 0 && n > q.Batch {
				t.Fatalf("seed %d: block %d serves %d runs of %d", c.Seed, s.Block, n, q.Batch)
			}
		}
	}
}
