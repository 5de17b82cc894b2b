package export

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"quern/rig/line"
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

// TestFormsAgree reads every table in every form, by readers that are not this package's, and wants the same.
func TestFormsAgree(t *testing.T) {
	o := campaign(t)
	out := written(t, o, "all")
	filled := 0
	for _, x := range Tables() {
		x, _ = x.withMass(o.Mass)
		var rows []map[string]any
		b, err := os.ReadFile(filepath.Join(out, x.Name+".json"))
		check(t, err)
		check(t, json.Unmarshal(b, &rows))
		if len(rows) > 0 {
			filled++
		} else if x.Name != "left_out" && x.Name != "series_current" {
			t.Errorf("%s is empty", x.Name)
		}
		sameCSV(t, filepath.Join(out, x.Name+".csv"), x, rows)
		sameParquet(t, filepath.Join(out, x.Name+".parquet"), x, rows)
		sameLines(t, filepath.Join(out, x.Name+".lp"), x, rows)
	}
	if filled < len(Tables())-2 {
		t.Errorf("only %d tables hold something", filled)
	}
}

func sameCSV(t *testing.T, name string, x Table, rows []map[string]any) {
	t.Helper()
	f, err := os.Open(name)
	check(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	head, err := r.Read()
	check(t, err)
	for i := 0; ; i++ {
		record, err := r.Read()
		if err == io.EOF {
			if i != len(rows) {
				t.Errorf("%s: %d rows, JSON has %d", name, i, len(rows))
			}
			return
		}
		check(t, err)
		for k, cell := range record {
			want := ""
			if v := rows[i][head[k]]; v != nil {
				want = fmt.Sprint(v)
				if f, ok := v.(float64); ok {
					want = strings.TrimSuffix(string(number(f).append(nil, num("", "", 9, ""))), ".0")
				}
			}
			if got := cell; got != want && (x.Columns[k].Type != Text || Unguarded(got) != want) {
				t.Fatalf("%s, row %d, %s: %q, JSON %q", name, i+1, head[k], got, want)
			}
		}
	}
}

func sameParquet(t *testing.T, name string, x Table, rows []map[string]any) {
	t.Helper()
	f, err := os.Open(name)
	check(t, err)
	defer f.Close()
	info, err := f.Stat()
	check(t, err)
	p, err := parquet.OpenFile(f, info.Size())
	check(t, err)
	var names []string
	for _, c := range p.Schema().Columns() {
		names = append(names, c[0])
	}
	for i, k := range x.Columns {
		if names[i] != k.Name {
			t.Fatalf("%s: columns %q", name, names)
		}
	}
	r := parquet.NewGenericReader[any](p)
	defer r.Close()
	buf := make([]parquet.Row, 100)
	at := 0
	for {
		n, err := r.ReadRows(buf)
		for _, row := range buf[:n] {
			for _, v := range row {
				want, k := rows[at][names[v.Column()]], x.Columns[v.Column()]
				var got any
				switch {
				case v.IsNull():
				case k.Type == Number:
					got = v.Double()
				case k.Type == Whole:
					got = float64(v.Int64())
				case k.Type == Flag:
					got = v.Boolean()
				case k.Type == Instant:
					got = time.UnixMilli(v.Int64()).UTC().Format(instantForm)
				default:
					got = string(v.ByteArray())
				}
				if got != want {
					t.Fatalf("%s, row %d, %s: %v, JSON %v", name, at+1, k.Name, got, want)
				}
			}
			at++
		}
		if errors.Is(err, io.EOF) {
			break
		}
		check(t, err)
	}
	if at != len(rows) {
		t.Errorf("%s: %d rows, JSON has %d", name, at, len(rows))
	}
}

// sameLines also wants that no two points of a table would be one to a time series engine.
func sameLines(t *testing.T, name string, x Table, rows []map[string]any) {
	t.Helper()
	text, err := os.ReadFile(name)
	check(t, err)
	points := slices.Collect(bytes.Lines(text))
	points = slices.DeleteFunc(points, func(l []byte) bool { return l[0] == '#' })
	at := 0
	seen := map[string]bool{}
	for _, row := range rows {
		want := map[string]string{}
		for _, k := range x.Columns {
			if v := row[k.Name]; v != nil && !k.Key && k.Name != "utc" {
				want[k.Name] = printable(fmt.Sprint(v))
			}
		}
		if len(want) == 0 {
			continue
		}
		if at == len(points) {
			t.Fatalf("%s holds %d points, expected more", name, at)
		}
		p, err := line.Parse(points[at])
		check(t, err)
		at++
		if id := fmt.Sprint(p.Tags, p.Time); seen[id] {
			t.Fatalf("%s, point %d: a second point with %s", name, at, id)
		} else {
			seen[id] = true
		}
		for _, k := range p.Fields {
			var got string
			switch v := k.Value; v.Kind() {
			case line.Float:
				f, _ := v.Float()
				got = fmt.Sprint(f)
			case line.Int:
				n, _ := v.Int()
				got = fmt.Sprint(float64(n))
			case line.Bool:
				b, _ := v.Bool()
				got = fmt.Sprint(b)
			default:
				got, _ = v.Text()
			}
			if got != want[k.Key] {
				t.Fatalf("%s, point %d: %s is %q, JSON %q", name, at, k.Key, got, want[k.Key])
			}
			delete(want, k.Key)
		}
		if len(want) > 0 {
			t.Fatalf("%s, point %d lacks %v", name, at, want)
		}
		if utc, _ := row["utc"].(string); p.Timed != (utc != "") || p.Timed && time.Unix(0, p.Time).UTC().Format(instantForm) != utc {
			t.Fatalf("%s, point %d: time %d, JSON %q", name, at, p.Time, utc)
		}
	}
	if at != len(points) {
		t.Errorf("%s holds %d points, JSON has %d", name, len(points), at)
	}
}

// TestReadByOthers: pandas and a spreadsheet read the CSV and find what the JSON says, and no formula.
func TestReadByOthers(t *testing.T) {
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import pandas").Run(); err != nil {
		t.Skip("no pandas in Debian's Python: apt-get install python3-pandas")
	}
	args := []string{"../../../deploy/exports_read_back.py", ""}
	office := "no LibreOffice: apt-get install --no-install-recommends libreoffice-calc"
	if _, err := exec.LookPath("soffice"); err == nil && !testing.Short() {
		args, office = append(args, "--spreadsheet"), ""
	}
	o := campaign(t)
	o.Forms = []string{"csv", "json"}
	args[1] = written(t, o, "tables", "series_level", "series_mass", "series_extra", "series_third_octaves")
	said, err := exec.Command(python, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	t.Logf("%s", said)
	if office != "" {
		t.Skip(office)
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
