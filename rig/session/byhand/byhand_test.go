package byhand

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quern/acquire/recording"
	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

const lab = "../../../testdata/lab"

// table returns a table of so many rows, all of one day.
func table(rows int) Table {
	t := Table{Name: "old.csv", Who: "ann", Why: "by hand", Tool: "a test"}
	for i := range rows {
		t.Rows = append(t.Rows, recording.HandRun{Line: 2 + i, Unit: "unit-a", Procedure: "mixed", Date: time.Date(2025, 5, 3, 0, 0, 0, 0, time.UTC),
			Note: "slow", Measures: []recording.HandMeasure{{Name: "run_time_s", Text: fmt.Sprint(90 + i)}}})
	}
	return t
}

func setups(t *testing.T) func(unit, procedure string) (config.Setup, error) {
	t.Helper()
	l, err := config.Read(os.DirFS(lab))
	if err != nil {
		t.Fatal(err)
	}
	return l.Setup
}

func names(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return strings.Join(out, " ")
}

// A table becomes sessions; when it has grown, its new rows do.
func TestTable(t *testing.T) {
	out := filepath.Join(t.TempDir(), "sessions")
	bring := func(tab Table) int {
		t.Helper()
		fresh, err := tab.Fresh(out, setups(t))
		if err != nil {
			t.Fatal(err)
		}
		if err := tab.Write(out, fresh); err != nil {
			t.Fatal(err)
		}
		return len(fresh)
	}
	for i, c := range []struct{ rows, fresh int }{{2, 2}, {2, 0}, {3, 1}} {
		if n := bring(table(c.rows)); n != c.fresh {
			t.Errorf("time %d: %d of %d rows became sessions, expected %d", i+1, n, c.rows, c.fresh)
		}
	}
	first := "20250503-unit-a-mixed-by-hand-1"
	if got, want := names(t, out), first+" 20250503-unit-a-mixed-by-hand-2 20250503-unit-a-mixed-by-hand-3"; got != want {
		t.Errorf("sessions %s, expected %s", got, want)
	}
	b, err := session.OpenFacts(filepath.Join(out, first))
	if err != nil {
		t.Fatal(err)
	}
	if b.Manifest.Origin != rig.ByHand || b.Manifest.State != session.Sealed || len(b.Facts.Remarks) != 1 || len(b.Facts.Corrections) != 1 {
		t.Fatalf("a session of a row: %+v", b)
	}
	if k := b.Facts.Corrections[0]; k.Target != "measure.run_time_s" || k.New != "90" || k.Who != "ann" || k.Why != "by hand" {
		t.Errorf("its value: %+v", k)
	}
}

// Where one row cannot be written, none is.
func TestTableIsWhole(t *testing.T) {
	out := t.TempDir()
	tab := table(3)
	fresh, err := tab.Fresh(out, setups(t))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(fresh[2].Dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := tab.Write(out, fresh); err == nil {
		t.Error("written over what stands there")
	}
	if got, want := names(t, out), filepath.Base(fresh[2].Dir); got != want {
		t.Errorf("left behind: %s, expected %s", got, want)
	}
}

// What is wrong with a row is told with its line, before anything is made.
func TestTableIsRefused(t *testing.T) {
	for says, spoil := range map[string]func(*Table){
		"old.csv:3: found nobody who took it":      func(t *Table) { t.Who = ""; t.Rows[0].Who = "bo" },
		"old.csv:3: ":                              func(t *Table) { t.Rows[1].Unit = "unit-z" },
		"old.csv:2: found a row that is on record": func(t *Table) { t.Rows[0].Measures[0].Text = "80" },
	} {
		out := t.TempDir()
		tab := table(1)
		fresh, err := tab.Fresh(out, setups(t))
		if err != nil || tab.Write(out, fresh) != nil {
			t.Fatal(err)
		}
		tab = table(2)
		spoil(&tab)
		if fresh, err := tab.Fresh(out, setups(t)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%d sessions, %v, expected %q", len(fresh), err, says)
		}
	}
}

// A row says who took it and, with a time of day, when by the lab's clock; a day alone is the same one in every zone. Folders
// that only look alike are nobody's rows.
func TestRowsOfTheirOwn(t *testing.T) {
	out := t.TempDir()
	for _, name := range []string{"2025-unit-a-mixed-by-hand-7", "20250503-unit-a-mixed-by-hand-x", "20250503-unit-a-mixed-by-hand-0", "20250503-unit-a-mixed"} {
		if err := os.Mkdir(filepath.Join(out, name), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	tab := table(2)
	tab.Rows[0].Who = "bo"
	tab.Rows[1].Date, tab.Rows[1].Timed = time.Date(2025, 5, 4, 3, 0, 0, 0, time.UTC), true
	of := setups(t)
	fresh, err := tab.Fresh(out, func(unit, procedure string) (config.Setup, error) {
		set, err := of(unit, procedure)
		set.Bench.TimeZone = "America/Chicago"
		return set, err
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := tab.Write(out, fresh); err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct{ name, who, zone string }{
		{"20250503-unit-a-mixed-by-hand-1", "bo", ""}, {"20250503-unit-a-mixed-by-hand-2", "ann", "America/Chicago"},
	} {
		b, err := session.OpenFacts(filepath.Join(out, want.name))
		if err != nil {
			t.Fatal(err)
		}
		rec := b.Record()
		if k, m := b.Facts.Corrections[0], b.Facts.Remarks[0]; k.Who != want.who || m.Who != want.who || b.Manifest.TimeZone != want.zone || rec.Day() != "2025-05-03" {
			t.Errorf("row %d: by %q and %q, zone %q, day %s, want by %q, zone %q", i+1, k.Who, m.Who, b.Manifest.TimeZone, rec.Day(), want.who, want.zone)
		}
	}
}
