package plan

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// campaign runs a plan to its end, voiding about one run in six, and re-plans after every few. In
// every fourth, runs of a day are done out of turn.
func campaign(t *testing.T, c Campaign, check func(before, after Plan, done []Outcome)) Plan {
	t.Helper()
	r := rand.New(rand.NewPCG(c.Seed, 2))
	p := mustDraw(t, c)
	for {
		var done []Outcome
		some, day := 1+r.IntN(8), ""
		for _, s := range p.Slots {
			if s.What == Open && day == "" {
				day = s.Day
			}
			if c.Seed%4 == 0 && s.Day != day {
				continue
			}
			if s.What != Open || len(done) == some || c.Seed%4 == 0 && r.IntN(8) == 0 {
				continue
			}
			o := Outcome{Slot: s.Number, What: Done}
			if r.IntN(6) == 0 {
				o = Outcome{Slot: s.Number, What: Void, Reason: "the clamp was open"}
			}
			done = append(done, o)
		}
		if !slices.ContainsFunc(p.Slots, func(s Slot) bool { return s.What == Open }) {
			return p
		}
		if len(done) == 0 {
			continue
		}
		next, err := p.Replan(done)
		if err != nil {
			t.Fatalf("seed %d: %v", c.Seed, err)
		}
		check(p, next, done)
		p = next
	}
}

// Campaigns from the first run to the last.
func TestReplan(t *testing.T) {
	voids, own, later, fresh, rows, slots := 0, 0, 0, 0, 0, 0
	for seed := range seeds() / 50 {
		c := invented(seed)
		first := mustDraw(t, c)
		last := campaign(t, c, func(before, after Plan, done []Outcome) {
			kept(t, before, after, done)
			rested(t, c, after)
			if after.Revision != before.Revision+1 {
				t.Fatalf("seed %d: revision %d after %d", seed, after.Revision, before.Revision)
			}
		})
		sound(t, c, last)
		for _, s := range last.Slots {
			if s.What != Void || s.Block == 0 {
				continue
			}
			voids++
			with := replacement(t, last, s)
			switch {
			case with.Block == s.Block:
				own++
			case slices.ContainsFunc(first.Slots, func(o Slot) bool { return o.Block == with.Block }):
				later++
			default:
				fresh++
			}
		}
		if len(c.Units) > 1 {
			rows, slots = rows+adjacent(last), slots+len(last.Slots)
		}
	}
	t.Logf("%d void runs: %d replaced in their block, %d in a later one, %d in a block of their own; %d of %d slots follow their own unit", voids, own, later, fresh, rows, slots)
	if testing.Short() {
		return // too few
	}
	if own == 0 || later == 0 || fresh == 0 {
		t.Error("not all ways of replacing came about")
	}
	if rows*100 > slots {
		t.Errorf("%d of %d slots follow a run of their own unit", rows, slots)
	}
}

// The first re-planning of many campaigns, wherever they stand.
func TestReplanOnce(t *testing.T) {
	for seed := range seeds() {
		c := invented(seed)
		p := mustDraw(t, c)
		r := rand.New(rand.NewPCG(seed, 3))
		var done []Outcome
		for _, s := range p.Slots[:r.IntN(len(p.Slots)+1)] {
			done = append(done, Outcome{Slot: s.Number, What: Done})
		}
		for range min(len(done), 3) {
			o := &done[r.IntN(len(done))]
			o.What, o.Reason = Void, "fed wrong"
		}
		q, err := p.Replan(done)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if len(done) == 0 {
			continue
		}
		kept(t, p, q, done)
		for _, s := range q.Slots {
			if s.What == Void && s.Block > 0 {
				replacement(t, q, s)
			}
		}
		rested(t, c, q)
		for i, s := range q.Slots {
			if len(c.Units) > 1 && s.Replaces() > 0 && s.Block > 0 && (q.beside(i, -1) || q.beside(i, 1)) && q.followed(i) {
				t.Fatalf("seed %d: slot %d runs beside its own unit, and others are left", seed, s.Number)
			}
		}
	}
}

// replacement returns the one slot that replaces a void one: later, the same run.
func replacement(t *testing.T, p Plan, void Slot) Slot {
	t.Helper()
	var out []Slot
	for _, s := range p.Slots {
		if s.Why == fmt.Sprintf("replaces %d", void.Number) {
			out = append(out, s)
		}
	}
	if len(out) != 1 {
		t.Fatalf("slot %d has %d replacements", void.Number, len(out))
	}
	s := out[0]
	if s.Unit != void.Unit || s.Procedure != void.Procedure || s.Repeat != void.Repeat || p.dayOf(s.Day)*1440+s.StartMin <= p.dayOf(void.Day)*1440+void.StartMin {
		t.Fatalf("%+v replaces %+v", s, void)
	}
	return s
}

// kept checks that what was closed stands as it stood, before everything new at its bench, and that
// the order of the rest is the same.
func kept(t *testing.T, before, after Plan, done []Outcome) {
	t.Helper()
	var old []Slot
	for _, s := range after.Slots {
		if s.Revision <= before.Revision {
			old = append(old, s)
		}
	}
	if len(old) != len(before.Slots) {
		t.Fatalf("seed %d: %d slots of the %d before", before.Seed, len(old), len(before.Slots))
	}
	for i, s := range before.Slots {
		got := old[i]
		for _, o := range done {
			if o.Slot == s.Number {
				s.What, s.Reason = o.What, o.Reason
			}
		}
		if s.What == Open {
			got.StartMin, got.WaitMin = s.StartMin, s.WaitMin // may be later
		}
		if got != s {
			t.Fatalf("seed %d: %+v became %+v", before.Seed, s, got)
		}
	}
	fresh := map[string]bool{}
	for _, s := range after.Slots {
		if s.Revision == after.Revision {
			fresh[s.Bench] = true
		}
		if s.tried() && fresh[s.Bench] {
			t.Fatalf("seed %d: slot %d was run, and has a new slot before it", before.Seed, s.Number)
		}
	}
}

func TestReplanSameAgain(t *testing.T) {
	p := mustDraw(t, small(5))
	done := []Outcome{{Slot: 1, What: Done}, {Slot: 2, What: Void, Reason: "fed wrong"}}
	a, err := p.Replan(done)
	if err != nil {
		t.Fatal(err)
	}
	b, err := p.Replan(done)
	if err != nil || !reflect.DeepEqual(a, b) {
		t.Errorf("the same outcomes give another plan (%v)", err)
	}
	if again, err := a.Replan(done); err != nil || !reflect.DeepEqual(a, again) {
		t.Errorf("outcomes told twice change the plan: revision %d (%v)", again.Revision, err)
	}
}

// A run that is not void after all needs no replacement; if it is void again, it does.
func TestReplanTakenBack(t *testing.T) {
	p := mustDraw(t, small(5))
	void := []Outcome{{Slot: 1, What: Done}, {Slot: 2, What: Void, Reason: "fed wrong"}}
	p, _ = p.Replan(void)
	p, _ = p.Replan([]Outcome{{Slot: 2, What: Done}})
	i := p.find(len(p.Slots))
	if s := p.Slots[i]; s.What != Skipped || s.Reason != "not needed: 2 is not void" {
		t.Errorf("the replacement is %+v", s)
	}
	sound(t, small(5), p)
	p, _ = p.Replan(void)
	sound(t, small(5), p)
	if p.Revision != 4 {
		t.Errorf("revision %d, want 4", p.Revision)
	}
}

// A unit that is out of the campaign is skipped, and nothing comes in its place.
func TestReplanSkipped(t *testing.T) {
	p := mustDraw(t, small(5))
	var done []Outcome
	for _, s := range p.Slots {
		if s.Unit == "unit-c" {
			done = append(done, Outcome{Slot: s.Number, What: Skipped, Reason: "it smoked"})
		}
	}
	q, err := p.Replan(done)
	if err != nil || len(q.Slots) != len(p.Slots) {
		t.Errorf("%d slots, want %d (%v)", len(q.Slots), len(p.Slots), err)
	}
	rested(t, small(5), q)
	q, err = q.Replan([]Outcome{{Slot: 2, What: Void, Reason: "fed wrong"}})
	if err != nil || len(q.Slots) != len(p.Slots)+1 {
		t.Errorf("%d slots, want %d (%v)", len(q.Slots), len(p.Slots)+1, err)
	}
}

func TestReplanWrong(t *testing.T) {
	p := mustDraw(t, small(5))
	for _, test := range []struct {
		o    Outcome
		want string
	}{
		{Outcome{Slot: 99, What: Done}, "slots 1 to 33"},
		{Outcome{Slot: 1, What: Void}, "say why it is void"},
		{Outcome{Slot: 1, What: Skipped, Reason: "two\nlines"}, "one line"},
		{Outcome{Slot: 1, What: Done, Reason: "two\nlines"}, "expected nothing, or one line"},
		{Outcome{Slot: 1, Reason: "nice"}, "expected none"},
		{Outcome{Slot: 1, What: "lost"}, "done, void or skipped"},
	} {
		if q, err := p.Replan([]Outcome{test.o}); err == nil || !strings.Contains(err.Error(), test.want) || q.Slots != nil {
			t.Errorf("%+v: got %v, want %q", test.o, err, test.want)
		}
	}
	if len(p.Slots) != 33 || p.Slots[0].What != Open {
		t.Error("the plan given was changed")
	}
}

// TestLine: what a person wrote as a reason can be as long as it likes, and the plan can still be read.
func TestLine(t *testing.T) {
	for given, want := range map[string]string{
		"the tap was forgotten": "the tap was forgotten", " two\nlines\x00 ": "two lines", "\xff": "?", " \u2028": "",
		strings.Repeat("x", 301): strings.Repeat("x", 297) + "...", strings.Repeat("é", 200): strings.Repeat("é", 148) + "...",
	} {
		got := Line(given)
		if got != want || !line(got) {
			t.Errorf("%q: got %q, want %q", given, got, want)
		}
	}
}
