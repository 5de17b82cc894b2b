package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quern/rig/session"
)

// in runs a command line on a machine in a time zone.
func in(t *testing.T, zone string, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	status := run(context.Background(), env{args: args, out: &out, err: &errs, zone: zone,
		now: func() time.Time { return time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC) }})
	if status != 0 || errs.Len() > 0 {
		t.Fatalf("quern %s: status %d, %s", strings.Join(args, " "), status, &errs)
	}
	return out.String()
}

// A session keeps the zone of the lab, or else of the machine that brought it in; events and figures do not depend on it.
func TestSessionsKeepTheirZone(t *testing.T) {
	d := t.TempDir()
	lab, named := putLab(t, filepath.Join(d, "lab"), bench), putLab(t, filepath.Join(d, "named"), "time_zone = \"Asia/Kathmandu\"\n"+bench)
	table := put(t, d, "good.csv", scaleTable)
	const evening = "2026-03-02T01:30:00Z" // in Chicago that of 1 March
	var replays []string
	for _, c := range []struct {
		name, lab, machine, start string
		zone, day                 string
	}{
		{"own", lab, "America/Chicago", evening, "America/Chicago", "2026-03-01"},
		{"of-lab", named, "America/Chicago", evening, "Asia/Kathmandu", "2026-03-02"},
		{"none", lab, "", evening, "", "2026-03-02"},
		{"no-start", lab, "America/Chicago", "", "", "1970-01-01"}, // nobody said when it was
	} {
		dir := filepath.Join(d, "x", c.name)
		if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
			t.Fatal(err)
		}
		args := []string{"import", "--lab", c.lab, "--unit", "unit-a", "--procedure", "mixed", "--out", dir, "--scale", table}
		if c.start != "" {
			args = append(args, "--start", c.start)
		}
		in(t, c.machine, args...)
		b, err := session.OpenFacts(dir)
		if err != nil {
			t.Fatal(err)
		}
		set, err := session.ReadSetup(dir)
		if err != nil {
			t.Fatal(err)
		}
		rec := b.Record()
		if b.Manifest.TimeZone != c.zone || set.Bench.TimeZone != c.zone || rec.Day() != c.day {
			t.Errorf("%s: %q in the manifest, %q in the settings, day %s; want %q and %s", c.name, b.Manifest.TimeZone, set.Bench.TimeZone, rec.Day(), c.zone, c.day)
		}
		text, err := os.ReadFile(filepath.Join(dir, "manifest.json"))
		if err != nil {
			t.Fatal(err)
		}
		if c.zone == "" && strings.Contains(string(text), "time_zone") {
			t.Errorf("%s: a manifest of a session without a zone is another than it was:\n%s", c.name, text)
		}
		replays = append(replays, strings.ReplaceAll(in(t, c.machine, "replay", dir, "--json"), c.name, "x"))
		if replays[0] != replays[len(replays)-1] {
			t.Errorf("%s: a replay depends on the zone:\n%s\n%s", c.name, replays[0], replays[len(replays)-1])
		}
	}
}

// A day in a table of results taken by hand is that day in every zone.
func TestDaysByHand(t *testing.T) {
	d := t.TempDir()
	lab := putLab(t, filepath.Join(d, "lab"), bench)
	table := put(t, d, "old.csv", "unit,procedure,date,run_time_s\nunit-a,mixed,2024-05-31,90\nunit-a,mixed,2024-06-01T02:00:00Z,91\n")
	in(t, "America/Chicago", "import", "--lab", lab, "--table", table, "--out", filepath.Join(d, "s"), "--who", "ann")
	// The table that grew is taken again.
	grown := put(t, d, "old.csv", "unit,procedure,date,run_time_s\nunit-a,mixed,2024-05-31,90\nunit-a,mixed,2024-05-31,70\nunit-a,mixed,2024-06-01T02:00:00Z,91\n")
	if said := in(t, "America/Chicago", "import", "--lab", lab, "--table", grown, "--out", filepath.Join(d, "s"), "--who", "ann"); !strings.Contains(said, "2 runs of the table there already\n") || !strings.Contains(said, ": 1 run taken by hand") || !exists(filepath.Join(d, "s", "20240531-unit-a-mixed-by-hand-3")) {
		t.Errorf("grown: %s", said)
	}
	if said := in(t, "UTC", "import", "--lab", lab, "--table", grown, "--out", filepath.Join(d, "s"), "--who", "ann"); !strings.Contains(said, "all 3 runs of the table are there already") {
		t.Errorf("again: %s", said)
	}
	for name, want := range map[string]string{"20240531-unit-a-mixed-by-hand-1": "2024-05-31", "20240531-unit-a-mixed-by-hand-2": "2024-05-31"} {
		b, err := session.OpenFacts(filepath.Join(d, "s", name))
		if err != nil {
			t.Fatal(err)
		}
		rec := b.Record()
		if rec.Day() != want {
			t.Errorf("%s: day %s, want %s", name, rec.Day(), want)
		}
	}
}

// What came after a day of the bench is left out: the evening's run belongs to the day, the next morning's does not.
func TestAsOfADayOfTheBench(t *testing.T) {
	d := t.TempDir()
	lab := putLab(t, filepath.Join(d, "lab"), bench)
	table := put(t, d, "old.csv", "unit,procedure,date,run_time_s\nunit-a,mixed,2026-03-02T01:30:00Z,90\nunit-a,mixed,2026-03-02T15:00:00Z,91\n")
	in(t, "America/Chicago", "import", "--lab", lab, "--table", table, "--out", filepath.Join(d, "s"), "--who", "ann")
	for day, want := range map[string]int{"2026-02-28": 0, "2026-03-01": 1, "2026-03-02": 2} {
		out := in(t, "America/Chicago", "export", filepath.Join(d, "s"), "--lab", lab, "--as-of", day, "--only", "sessions", "--out", filepath.Join(d, day))
		text, err := os.ReadFile(filepath.Join(d, day, "sessions.csv"))
		if err != nil {
			t.Fatal(err)
		}
		if rows := strings.Count(string(text), ",America/Chicago\r\n"); rows != want {
			t.Errorf("as of %s: got %d sessions, want %d: %s\n%s", day, rows, want, out, text)
		}
	}
}

func TestCheckSaysWhoseDays(t *testing.T) {
	lab := putLab(t, filepath.Join(t.TempDir(), "lab"), bench)
	if text := in(t, "Pacific/Auckland", "check", lab); !strings.Contains(text, "Days are those of Pacific/Auckland, this machine's own zone") {
		t.Errorf("got:\n%s", text)
	}
}
