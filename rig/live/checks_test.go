package live

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"quern/rig"
)

// A check stands for its day: who put it on record and in which session does not matter, nor that the daemon was started
// again since.
func TestChecksOfTheDay(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		on := b.do(Ask{Act: Check, Check: rig.Check{Kind: rig.CheckScale, Nominal: rig.Fig(1000), Found: rig.Fig(1000), Who: "ann"}}).OnRecord
		if !strings.Contains(on.Say, "check of the scale, 1000 g where 1000 g should be") {
			t.Errorf("got %q", on.Say)
		}
		want := CheckNow{on.Session, on.Fact, rig.CheckScale, b.engine.day(), false}
		if got := b.engine.Now().Checks; len(got) != 1 || got[0] != want {
			t.Errorf("got %+v, want %+v", got, want)
		}
		b.refuses(Ask{Act: Correct, Correction: rig.Correction{Target: "check.99", New: "withdrawn", Who: "ann", Why: "slip"}}, "found no check 99")
		again := b.do(Ask{Act: Check, Check: rig.Check{Kind: rig.CheckScale, Nominal: rig.Fig(1000), Found: rig.Fig(10), Who: "ann"}}).OnRecord
		b.do(Ask{Act: Correct, Correction: rig.Correction{Target: fmt.Sprintf("check.%d", again.Fact), New: "withdrawn", Who: "ann", Why: "slip"}})
		both := []CheckNow{want, {again.Session, again.Fact, rig.CheckScale, want.Day, true}}
		if got := b.engine.Now().Checks; !slices.Equal(got, both) {
			t.Errorf("one withdrawn: got %+v, want %+v", got, both)
		}
		b.do(Ask{Act: End})
		bench := b.engine.setup.Bench.Name
		if got := checksOn(b.dir, bench, b.engine.day()); !slices.Equal(got, both) {
			t.Errorf("after a restart: got %+v, want %+v", got, both)
		}
		for name, got := range map[string][]CheckNow{
			"of another bench": checksOn(b.dir, "another", b.engine.day()),
			"of the day after": checksOn(b.dir, bench, b.engine.opts.Wall().Add(24*time.Hour).Format(time.DateOnly)),
		} {
			if len(got) > 0 {
				t.Errorf("%s: got %+v, want none", name, got)
			}
		}
	})
}

// A session is not ended in the middle of a run by a slip.
func TestEndWhileTheMotorRuns(t *testing.T) {
	onTable(t, weighSetup(), true, func(b *bench, d *table) {
		b.do(Ask{Act: Begin})
		d.turn(true, 5*time.Second)
		b.refuses(Ask{Act: End}, "the motor runs: switch it off first")
		if s := b.engine.Now(); s.Session == "" {
			t.Error("the session was ended")
		}
		b.do(Ask{Act: End, Force: true})
		d.turn(false, 2*time.Second)
	})
}

// What the daemon answers is told at a keyboard in words.
func TestSaid(t *testing.T) {
	for name, c := range map[string]struct {
		asked  Asked
		answer string
		want   string
	}{
		"a weighing": {Asked{Act: Weigh}, `{"session":"s","fact":6,"role":"charge","item":"celery","vessel":"bowl-1","gross_g":865,"tare_g":412,"tare_from":"register, dry","net_g":453,"target_g":300,"tolerance_g":10}`,
			"s: fact 6 on record: charge celery in bowl-1: 453 g net, +153 g from what is wanted; 865 g on the pan less 412 g (register, dry)"},
		"an undo":    {Asked{Act: Undo}, `{"session":"s","fact":7,"target":"weighing.6","new":"withdrawn"}`, "s: fact 7 on record: weighing.6 is now withdrawn"},
		"the drain":  {Asked{Act: Drain}, `{"drained_s":0,"target_s":120,"wait_s":100,"timing":"early"}`, "drained 0:00.0 of 2:00.0: weigh in 1:40.0 at the earliest"},
		"what comes": {Asked{Act: ToWeigh}, `{"role":"chamber","vessel":"bowl-1","net_g":null}`, "weighed next, by itself when it is at rest: chamber in bowl-1, on the pan -"},
		"a mark":     {Asked{Act: Mark, Text: "water on"}, "done\n", "marked: water on"},
		"a tare":     {Asked{Act: Tare}, "done\n", "the scale was told to tare: its next readings show whether it did"},
		"an end":     {Asked{Act: End}, "done\n", "the session is closed"},
	} {
		if got, err := Said(c.asked, []byte(c.answer)); err != nil || got != c.want {
			t.Errorf("%s: got %q, %v, want %q", name, got, err, c.want)
		}
	}
	if _, err := Said(Asked{Act: Weigh}, []byte("<html>")); err == nil {
		t.Error("an answer that is none was read")
	}
}
