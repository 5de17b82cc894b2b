package export

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
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
			if got := cell; got != want && (x.Columns[k].Type != Text || unguarded(got) != want) {
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
