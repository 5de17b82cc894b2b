package export

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write testdata/columns.txt anew; a changed line breaks what others have built")

// TestColumns holds tables and columns to what earlier versions wrote.
func TestColumns(t *testing.T) {
	var b strings.Builder
	fmt.Fprintf(&b, "format %d\n", Format)
	for _, x := range Tables() {
		fmt.Fprintf(&b, "\n%s: %s\n", x.Name, x.What)
		for _, k := range x.Columns {
			key := ""
			if k.Key {
				key = " key"
			}
			fmt.Fprintf(&b, "  %s | %s%s | %s | %s\n", k.Name, k.Type, key, k.Unit, k.What)
		}
	}
	const name = "testdata/columns.txt"
	if *update {
		check(t, os.MkdirAll("testdata", 0o755), os.WriteFile(name, []byte(b.String()), 0o644))
	}
	want, err := os.ReadFile(name)
	check(t, err)
	if b.String() != string(want) {
		t.Errorf("the tables are not those of %s: a new column goes to the end of its table; anything else needs another Format (go test ./rig/report/export -update writes it anew); got:\n%s", name, b.String())
	}
	for _, x := range Tables() {
		seen := map[string]bool{}
		for _, k := range x.Columns {
			if seen[k.Name] || k.What == "" || strings.Trim(k.Name, "abcdefghijklmnopqrstuvwxyz0123456789_") != "" {
				t.Errorf("%s.%s: twice, without a meaning, or no plain name", x.Name, k.Name)
			}
			seen[k.Name] = true
			for unit, end := range map[string]string{"s": "_s", "g": "_g", "dB": "_db", "A": "_a", "Hz": "_hz"} {
				if k.Unit == unit && !strings.HasSuffix(k.Name, end) {
					t.Errorf("%s.%s is in %s and does not end in %s", x.Name, k.Name, unit, end)
				}
			}
		}
	}
}

// TestLostAnalysis: what was not kept of an analysis is found again, the same.
func TestLostAnalysis(t *testing.T) {
	o := campaign(t)
	o.Forms = []string{"json"}
	var was [2]string
	for i := range was {
		out := written(t, o, "states", "spectrum", "warnings", "settings")
		for _, name := range []string{"states", "spectrum", "warnings", "settings"} {
			b, err := os.ReadFile(filepath.Join(out, name+".json"))
			check(t, err)
			was[i] += string(b)
		}
		check(t, os.RemoveAll(filepath.Join(o.Dirs["b"], "analyses")))
	}
	if was[0] != was[1] || len(was[0]) < 10000 {
		t.Errorf("%d bytes with the analysis, %d other ones without", len(was[0]), len(was[1]))
	}
}

// TestRelease: before its day a public name stands nowhere, afterwards beside the code.
func TestRelease(t *testing.T) {
	o := campaign(t)
	const name = "Unreleased Name"
	for i := range o.Campaign.Lab.Units {
		o.Campaign.Lab.Units[i].Name, o.Campaign.Lab.Units[i].Release = name, "2026-06-01"
	}
	for _, c := range []struct {
		day   string
		shown bool
	}{{"2026-05-31", false}, {"2026-06-01", true}} {
		o.Day = c.day
		o.Forms = []string{"csv", "json", "line"} // Parquet is compressed; TestFormsAgree holds it to the JSON
		out := written(t, o, "tables", "series_level")
		files, err := os.ReadDir(out)
		check(t, err)
		found := 0
		for _, f := range files {
			b, err := os.ReadFile(filepath.Join(out, f.Name()))
			check(t, err)
			found += strings.Count(string(b), name)
		}
		if (found > 0) != c.shown {
			t.Errorf("on %s the name stands in %d places", c.day, found)
		}
	}
}

// TestWholeOrNot: a folder with something in it is left alone, and what is interrupted leaves nothing.
func TestWholeOrNot(t *testing.T) {
	o := campaign(t)
	var err error
	o.Tables, err = Select([]string{"all"})
	check(t, err)
	folder := t.TempDir()
	there := filepath.Join(folder, "there")
	check(t, os.Mkdir(there, 0o755), os.WriteFile(filepath.Join(there, "notes"), nil, 0o644))
	if err := Write(t.Context(), there, o); err == nil || !strings.Contains(err.Error(), "something there already") {
		t.Errorf("over a folder with notes: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	o.Step = func(done, of int) { cancel() }
	if err := Write(ctx, filepath.Join(folder, "cut"), o); !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
	o.Dirs["b"] = filepath.Join(folder, "gone")
	o.Step = nil
	if err := Write(t.Context(), filepath.Join(folder, "lost"), o); err == nil {
		t.Error("a session that is gone was exported")
	}
	check(t, os.Mkdir(filepath.Join(folder, "empty"), 0o755))
	o.Tables = []string{"units"}
	check(t, Write(t.Context(), filepath.Join(folder, "empty"), o))
	entries, err := os.ReadDir(folder)
	check(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if !slices.Equal(names, []string{"empty", "there"}) {
		t.Errorf("left behind: %q", names)
	}
}

func TestSelect(t *testing.T) {
	got, err := Select([]string{"runs", "series", "runs"})
	check(t, err)
	if strings.Join(got, " ") != "runs series_level series_current series_mass series_extra series_third_octaves columns" {
		t.Errorf("got %q", got)
	}
	if _, err := Select([]string{"run"}); err == nil || !strings.Contains(err.Error(), `found table "run"`) {
		t.Errorf("got %v", err)
	}
}
