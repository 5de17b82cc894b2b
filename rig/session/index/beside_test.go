package index

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"quern/rig"
	"quern/rig/session"
)

// TestBeside: of the sessions of a folder those of the day and the bench count that are sealed and hold a check.
func TestBeside(t *testing.T) {
	folder, lab := filepath.Join(t.TempDir(), "sessions"), inventedLab(t, 240)
	check(t, os.Mkdir(folder, 0o755))
	set := setupOf(t, lab, "unit-a", "mixed")
	other := set
	other.Bench.Name = "bench-2"
	in := func(name string) string { return filepath.Join(folder, name) }
	add(t, in("a"), set, recorded, 1)
	add(t, in("checked"), set, recorded, 2)
	add(t, in("checked-twice"), setupOf(t, lab, "unit-b", "bones"), hand, 3)
	add(t, in("another-bench"), other, hand, 4)
	add(t, in("another-day"), set, hand, 4+24)
	add(t, in("damaged"), set, hand, 5)
	add(t, in("open"), set, open, 6)
	add(t, in("without"), set, hand, 7)
	// 17 h after the start of all, past midnight UTC.
	add(t, in("next-day"), set, hand, 17)
	for _, name := range []string{"a", "checked", "checked-twice", "checked-twice", "another-bench", "another-day", "damaged", "next-day"} {
		a, err := session.Amend(in(name), "quern test", started)
		check(t, err)
		_, err = a.AppendCheck(rig.Check{Kind: rig.CheckScale, Nominal: rig.Fig(1000), Found: rig.Fig(1001), Who: "ann"})
		check(t, err, a.Close())
	}
	edit(t, filepath.Join(in("damaged"), "addenda.lp"), func(b []byte) []byte { return append([]byte("nonsense\n"), b...) })
	rec := rig.Record{Session: "a", Bench: "bench-1", Started: started}
	for _, dir := range []string{in("a"), in("a") + "/", in("checked") + "/../a"} {
		got := Beside(dir, rec)
		if len(got) != 2 || got[0].Session != "checked" || got[1].Session != "checked-twice" {
			t.Fatalf("%s: got %+v", dir, got)
		}
		c, d := got[0].Facts, got[1].Facts
		if len(c.Checks) != 1 || len(d.Checks) != 2 || len(c.Weighings) != 0 || got[0].Bench != "bench-1" || got[0].Started.IsZero() || c.Checks[0].Found != rig.Fig(1001) {
			t.Errorf("got %+v", got)
		}
	}
	if _, err := os.Lstat(in(Name)); err == nil {
		t.Error("an index was made")
	}
	t.Chdir(in("a"))
	if got := Beside(".", rec); len(got) != 2 {
		t.Errorf("from within: got %+v", got)
	}
	if got := Beside(in("nothing"), rec); got != nil {
		t.Errorf("of nothing: got %+v", got)
	}
	if got := Beside(filepath.Join(in("a"), "recordings"), rec); got != nil {
		t.Errorf("of a part of a session: got %+v", got)
	}
	// In Auckland all that began at 19:08: what was checked 6 h later is of the next day, and so is what UTC puts on the next
	// day, of the sessions that keep the same zone.
	far := set
	far.Bench.Name, far.Bench.TimeZone = "far", "Pacific/Auckland"
	for n, name := range map[int]string{1: "far", 6: "far-next-day", 17: "far-and-next-in-utc"} {
		add(t, in(name), far, hand, n)
		a, err := session.Amend(in(name), "quern test", started)
		check(t, err)
		_, err = a.AppendCheck(rig.Check{Kind: rig.CheckScale, Who: "ann"})
		check(t, err, a.Close())
	}
	later := rig.Record{Bench: "far", Started: started.Add(5 * time.Hour), TimeZone: "Pacific/Auckland"}
	if got := Beside(in("a"), later); len(got) != 2 || got[0].Session != "far-and-next-in-utc" || got[1].Session != "far-next-day" || got[0].TimeZone != "Pacific/Auckland" {
		t.Errorf("of another zone: got %+v", got)
	}
}
