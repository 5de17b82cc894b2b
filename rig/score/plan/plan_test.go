package plan

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"quern/rig"
)

func TestDraw(t *testing.T) {
	rows, slots := 0, 0
	for seed := range seeds() {
		c := invented(seed)
		p := mustDraw(t, c)
		sound(t, c, p)
		controls(t, c, p)
		if b := p.Balance(); b.ShortRests > 0 {
			t.Fatalf("seed %d: %d short rests", seed, b.ShortRests)
		}
		if len(c.Units) > 1 {
			slots += len(p.Slots)
			rows += adjacent(p)
		}
	}
	if rows > 0 {
		t.Errorf("%d of %d slots follow a run of their own unit", rows, slots)
	}
}

// Days that are just long enough, or not: a plan is whole, or an error.
func TestDrawTight(t *testing.T) {
	short, rows, slots := 0, 0, 0
	for seed := range seeds() {
		c := invented(seed)
		minutes := 0
		for _, q := range c.Procedures {
			minutes += len(c.Units) * q.Repeats * q.Minutes
		}
		c.Days = c.Days[:min(len(c.Days), 1+minutes*10/9/(468*len(c.Days[0].Benches)))]
		p, err := Draw(c)
		if err != nil {
			short++
			continue
		}
		sound(t, c, p)
		if len(c.Units) > 1 {
			rows, slots = rows+adjacent(p), slots+len(p.Slots)
		}
	}
	if short == 0 || short > int(seeds())*3/4 {
		t.Errorf("%d of %d campaigns are too short, want some", short, seeds())
	}
	t.Logf("%d of %d campaigns found no room; %d of %d slots follow a run of their own unit", short, seeds(), rows, slots)
	if rows > 1+slots/30000 { // the last run of a full campaign may have no other place
		t.Errorf("%d of %d slots follow a run of their own unit", rows, slots)
	}
}

// adjacent counts the slots that follow a run of their own unit at a bench.
func adjacent(p Plan) (n int) {
	last := map[string]string{}
	for _, s := range p.Slots {
		at := s.Day + " " + s.Bench
		if last[at] == s.Unit {
			n++
		}
		last[at] = s.Unit
	}
	return n
}

// controls checks that a control opens every day at every bench that is used, and comes once.
func controls(t *testing.T, c Campaign, p Plan) {
	t.Helper()
	seen := map[string]bool{}
	for _, s := range p.Slots {
		at := s.Day + " " + s.Bench
		if isControl := s.Why == IsControl; isControl != (c.Control.Unit != "" && !seen[at]) {
			t.Fatalf("seed %d: slot %d at %s: control %t, place seen before %t", c.Seed, s.Number, at, isControl, seen[at])
		}
		seen[at] = true
	}
}

// Repeats lie on different days where there are enough.
func TestRepeatsOnDays(t *testing.T) {
	for seed := range uint64(200) {
		c := small(seed)
		days := map[string]map[string]bool{}
		for _, s := range mustDraw(t, c).Slots {
			if s.Block > 0 {
				k := s.Unit + s.Procedure
				if days[k] == nil {
					days[k] = map[string]bool{}
				}
				days[k][s.Day] = true
			}
		}
		for k, d := range days {
			if len(d) != 3 {
				t.Fatalf("seed %d: %s runs on %d days, want 3", seed, k, len(d))
			}
		}
	}
}

// small is a lab as they are: five units, two procedures, three repeats, three days.
func small(seed uint64) Campaign {
	c := Campaign{
		Units: []string{"unit-a", "unit-b", "unit-c", "unit-d", "unit-e"},
		Procedures: []Procedure{
			{ID: "mixed", Repeats: 3, Minutes: 25, RestS: 1800, Batch: 6},
			{ID: "fish", Repeats: 3, Minutes: 20, RestS: 1800, Batch: 5},
		},
		Control: Control{Unit: "unit-r", Procedure: "balls", Minutes: 15, RestS: 600},
		Seed:    seed,
	}
	for _, d := range []string{"2026-11-03", "2026-11-04", "2026-11-06"} {
		c.Days = append(c.Days, Day{Label: d, OpenMin: 540, Minutes: 420, Benches: []string{"bench-1"}})
	}
	return c
}

// Over the seeds every unit is in the middle, and before every other in half of the blocks they share.
func TestBalanceOverSeeds(t *testing.T) {
	const n = 5
	var position [n]float64
	var before [n][n]float64
	runs, blocks := 0, 0
	for seed := range seeds() {
		b := mustDraw(t, small(seed)).Balance()
		for i, u := range b.Units {
			position[i] += u.MeanPosition.V / float64(seeds())
			for j := range b.Units {
				before[i][j] += float64(b.Before[i][j])
			}
		}
		runs, blocks = runs+b.Units[0].Runs, blocks+b.Blocks
		if b.WholeBlocks != 6 || b.LongestRow != 1 || b.LeastRest.V < 30 {
			t.Fatalf("seed %d: %+v", seed, b)
		}
	}
	// A position is uniform on 0.1, 0.3 .. 0.9: standard deviation sqrt(0.08). Within a day the second
	// block's order depends on the first's, so that only days count as independent: 3 a seed.
	noise := 5 * math.Sqrt(0.08/(3*float64(seeds())))
	share := 5 * math.Sqrt(0.25/(3*float64(seeds())))
	for i := range n {
		if !(math.Abs(position[i]-0.5) <= noise) {
			t.Errorf("unit %d: mean position %.4f, want 0.5 within %.4f", i, position[i], noise)
		}
		for j := range n {
			if got := before[i][j] / float64(blocks); i != j && math.Abs(got-0.5) > share {
				t.Errorf("unit %d before %d in %.4f of the blocks, want 0.5 within %.4f", i, j, got, share)
			}
		}
	}
	t.Logf("positions %.4f, unit 0 before the others %.4f", position, before[0][1]/float64(blocks))
}

// A balance worked by hand: a before b and c, then b before a; c was skipped there.
func TestBalance(t *testing.T) {
	p := Plan{
		Procedures: []Procedure{{ID: "mixed", Repeats: 2, Minutes: 10, RestS: 1800}},
		Days:       []Day{{Label: "day-1", OpenMin: 540, Minutes: 200, Benches: []string{"bench-1"}}},
	}
	for i, s := range []Slot{
		{Unit: "unit-a", Block: 1, StartMin: 540}, {Unit: "unit-b", Block: 1, StartMin: 550}, {Unit: "unit-c", Block: 1, StartMin: 560},
		{Unit: "unit-b", Block: 2, StartMin: 589}, {Unit: "unit-c", Block: 2, StartMin: 600, What: Skipped, Reason: "it smoked"}, {Unit: "unit-a", Block: 2, StartMin: 600, WaitMin: 1},
	} {
		s.Number, s.Day, s.Bench, s.Procedure, s.Why = i+1, "day-1", "bench-1", "mixed", Planned
		p.Slots = append(p.Slots, s)
	}
	want := Balance{
		Units:      []UnitBalance{{"unit-a", 2, rig.Fig((1./6 + 3./4) / 2)}, {"unit-b", 2, rig.Fig((1./2 + 1./4) / 2)}, {"unit-c", 1, rig.Fig(5. / 6)}},
		Before:     [][]int{{0, 1, 1}, {1, 0, 1}, {0, 0, 0}},
		LongestRow: 1, LeastRest: rig.Fig(29), ShortRests: 1, WaitMin: 1, Blocks: 2, WholeBlocks: 1,
	}
	if got := p.Balance(); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

// All orders of three units come equally often, by chi-squared (critical value for 5 degrees of
// freedom at 0.001: 20.5).
func TestOrdersEquallyOften(t *testing.T) {
	counts := map[string]int{}
	for seed := range uint64(6000) {
		c := small(seed)
		c.Units, c.Procedures, c.Control = c.Units[:3], c.Procedures[:1], Control{}
		var order string
		for _, s := range mustDraw(t, c).Slots[:3] {
			order += s.Unit[5:]
		}
		counts[order]++
	}
	chi := 0.0
	for _, n := range counts {
		chi += float64(n-1000) * float64(n-1000) / 1000
	}
	if len(counts) != 6 || chi > 20.5 {
		t.Errorf("%v: chi-squared %.1f", counts, chi)
	}
}

func TestSameSeedSamePlan(t *testing.T) {
	for seed := range uint64(300) {
		c := invented(seed)
		want := mustDraw(t, c)
		r := rand.New(rand.NewPCG(seed, 1))
		r.Shuffle(len(c.Units), func(i, j int) { c.Units[i], c.Units[j] = c.Units[j], c.Units[i] })
		slices.Reverse(c.Procedures)
		for i := range c.Days {
			c.Days[i].Benches = slices.Clone(c.Days[i].Benches)
			slices.Reverse(c.Days[i].Benches)
		}
		if got := mustDraw(t, c); !reflect.DeepEqual(got, want) {
			t.Fatalf("seed %d: another order of input gives another plan", seed)
		}
	}
	a, b := mustDraw(t, small(1)), mustDraw(t, small(2))
	if slices.Equal(a.Slots, b.Slots) {
		t.Error("seeds 1 and 2 give the same plan")
	}
}

// The first outputs for seed 42, stream 54, of the demonstration of the PCG library's C
// implementation (pcg-random.org; from memory).
func TestPCG(t *testing.T) {
	g := newPCG(42, 54)
	for i, want := range []uint32{0xa15c02b7, 0x7b47f409, 0xba1d3330, 0x83d2f293, 0xbfa4784b, 0xcbed606e} {
		if got := g.next(); got != want {
			t.Errorf("output %d: got %#x, want %#x", i, got, want)
		}
	}
}

func TestBelow(t *testing.T) {
	g, counts := newPCG(7, 1), make([]int, 7)
	for range 70000 {
		counts[g.below(7)]++
	}
	for v, n := range counts {
		if n < 9500 || n > 10500 { // 10000 +- 5 x 93
			t.Errorf("%d drawn %d times of 70000", v, n)
		}
	}
}

func TestTooShort(t *testing.T) {
	c := small(1)
	c.Days = c.Days[:1]
	_, err := Draw(c)
	if err == nil || !strings.Contains(err.Error(), "no room for repeat") {
		t.Errorf("got %v", err)
	}
}

func TestWrongCampaign(t *testing.T) {
	for _, test := range []struct {
		name string
		do   func(*Campaign)
		want string
	}{
		{"no units", func(c *Campaign) { c.Units = nil }, "no units"},
		{"unit twice", func(c *Campaign) { c.Units = append(c.Units, "unit-a") }, "unit-a twice"},
		{"formula", func(c *Campaign) { c.Units[0] = "=1" }, `unit "=1"`},
		{"no procedures", func(c *Campaign) { c.Procedures = nil }, "no procedures"},
		{"procedure twice", func(c *Campaign) { c.Procedures[1].ID = c.Procedures[0].ID }, "fish twice"},
		{"no repeats", func(c *Campaign) { c.Procedures[0].Repeats = 0 }, "0 repeats"},
		{"negative rest", func(c *Campaign) { c.Procedures[0].RestS = -1 }, "-1 s of rest"},
		{"too long", func(c *Campaign) { c.Procedures[0].Minutes = 410 }, "no day is that long"},
		{"huge", func(c *Campaign) { c.Procedures[0].Repeats = math.MaxInt }, "split the campaign"},
		{"no days", func(c *Campaign) { c.Days = nil }, "0 days"},
		{"days turned", func(c *Campaign) { slices.Reverse(c.Days) }, "order of time"},
		{"past midnight", func(c *Campaign) { c.Days[0].Minutes = 1000 }, "midnight"},
		{"no bench", func(c *Campaign) { c.Days[0].Benches = nil }, "no bench"},
		{"bench twice", func(c *Campaign) { c.Days[0].Benches = []string{"b", "b"} }, "each bench once"},
		{"half a control", func(c *Campaign) { c.Control.Unit = "" }, "control unit"},
	} {
		c := small(1).sorted()
		test.do(&c)
		if _, err := Draw(c); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got %v, want %q", test.name, err, test.want)
		}
	}
}

// Rest across nights: dates lie as far apart as they are.
func TestRestOverNight(t *testing.T) {
	c := small(3)
	c.Units, c.Control = c.Units[:1], Control{}
	c.Procedures = []Procedure{{ID: "mixed", Repeats: 3, Minutes: 25, RestS: 86400}}
	var got []string
	for _, s := range mustDraw(t, c).Slots {
		got = append(got, fmt.Sprintf("%s %s", s.Day, clock(s.StartMin)))
	}
	want := []string{"2026-11-03 09:00", "2026-11-04 09:25", "2026-11-06 09:00"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestDateNumber(t *testing.T) {
	for _, test := range []struct {
		from, to string
		days     int
	}{
		{"2024-02-28", "2024-03-01", 2}, {"2026-02-28", "2026-03-01", 1}, {"2026-12-31", "2027-01-01", 1},
		{"1900-02-28", "1900-03-01", 1}, {"2000-01-01", "2001-01-01", 366},
	} {
		a, okA := dateNumber(test.from)
		b, okB := dateNumber(test.to)
		if !okA || !okB || b-a != test.days {
			t.Errorf("%s to %s: got %d days, want %d", test.from, test.to, b-a, test.days)
		}
	}
	for _, wrong := range []string{"2026-02-29", "2026-13-01", "day-1", "2026-11-3", "20-11-2026"} {
		if _, ok := dateNumber(wrong); ok {
			t.Errorf("%s passes for a date", wrong)
		}
	}
}

// written returns the file of a plan.
func written(t testing.TB, p Plan) string {
	t.Helper()
	var b bytes.Buffer
	if err := p.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}
