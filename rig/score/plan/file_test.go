package plan

import (
	"bytes"
	"encoding/csv"
	"errors"
	"flag"
	"io"
	"os"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"

	"quern/rig"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := "testdata/" + name
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs:\n%s", path, got)
	}
}

// smallLab is the plan of a small invented lab after a first morning: a run void, another noted that was
// not planned.
func smallLab(t testing.TB) (first, second Plan) {
	t.Helper()
	first, err := Draw(small(42))
	if err != nil {
		t.Fatal(err)
	}
	second, err = first.Replan([]Outcome{
		{Slot: 1, What: Done}, {Slot: 2, What: Done}, {Slot: 3, What: Void, Reason: `clamp open, "again"`}, {Slot: 4, What: Done},
	})
	if err != nil {
		t.Fatal(err)
	}
	second, err = second.Note(Unplanned{Day: "2026-11-03", Bench: "bench-1", Unit: "unit-b", Procedure: "mixed", StartMin: 510, Note: "for the camera, =not= scored"})
	if err != nil {
		t.Fatal(err)
	}
	return first, second
}

func TestGolden(t *testing.T) {
	first, second := smallLab(t)
	golden(t, "plan-1.csv", written(t, first))
	golden(t, "plan-2.csv", written(t, second))
	var list bytes.Buffer
	if err := second.List(&list, []Outcome{{Slot: 5, What: Done, EndedMin: rig.Fig(670)}}); err != nil {
		t.Fatal(err)
	}
	golden(t, "list-2.txt", list.String())
}

func TestReadBack(t *testing.T) {
	first, second := smallLab(t)
	plans := []Plan{first, second}
	for seed := range uint64(100) {
		plans = append(plans, mustDraw(t, invented(seed)))
	}
	for _, p := range plans {
		text := written(t, p)
		got, err := Read(strings.NewReader(text), "plan.csv")
		if err != nil || !reflect.DeepEqual(got, p) {
			t.Fatalf("seed %d does not read back: %v", p.Seed, err)
		}
		again, err := got.Replan(nil)
		if err != nil || !reflect.DeepEqual(again, p) {
			t.Fatalf("seed %d: re-planning with nothing new changes it (%v)", p.Seed, err)
		}
	}
}

// A plan that was read is re-planned like the one that was written.
func TestReadReplan(t *testing.T) {
	_, p := smallLab(t)
	q, err := Read(strings.NewReader(written(t, p)), "plan.csv")
	if err != nil {
		t.Fatal(err)
	}
	void := []Outcome{{Slot: 5, What: Void, Reason: "fed wrong"}}
	a, errA := p.Replan(void)
	b, errB := q.Replan(void)
	if errA != nil || errB != nil || !reflect.DeepEqual(a, b) {
		t.Errorf("differ: %v, %v", errA, errB)
	}
}

// A spreadsheet fills comment lines up with empty cells, ends lines with CR LF, puts a byte order mark
// on top, drops leading zeros and adds seconds.
func TestReadFromSpreadsheet(t *testing.T) {
	_, p := smallLab(t)
	lines := strings.Split(strings.TrimSuffix(written(t, p), "\n"), "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, "#") {
			lines[i] += ",,,,,,,,,,,,"
		}
	}
	text := "\ufeff" + strings.Join(lines, "\r\n") + "\r\n"
	text = strings.ReplaceAll(text, ",09:00,", ",9:00:00,")
	got, err := Read(strings.NewReader(text), "plan.csv")
	if err != nil || !reflect.DeepEqual(got, p) {
		t.Errorf("does not read: %v", err)
	}
}

// formula tells whether a spreadsheet takes a cell for a formula.
func formula(cell string) bool { return cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) }

func TestNoFormulas(t *testing.T) {
	_, p := smallLab(t)
	p, err := p.Replan([]Outcome{{Slot: 5, What: Skipped, Reason: "=1+1"}, {Slot: 6, What: Void, Reason: "-5 dB, @home"}})
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(written(t, p)))
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		for _, cell := range row {
			if formula(cell) {
				t.Errorf("cell %q of %q", cell, row)
			}
		}
	}
}

func TestReadWrong(t *testing.T) {
	_, p := smallLab(t)
	text := written(t, p)
	lines := strings.SplitAfter(text, "\n")
	slot := func(i int) string { return lines[len(lines)-len(p.Slots)-1+i] } // i from 0
	for _, test := range []struct {
		name, old, new, want string
	}{
		{"empty", text, "", "found seed false"},
		{"no seed", "# seed: 42\n", "", "seed false"},
		{"seed twice", "# seed: 42\n", "# seed: 42\n# seed: 43\n", "plan.csv:8: found \"43\""},
		{"seed a word", "# seed: 42\n", "# seed: x\n", "expected one whole number"},
		{"revision 0", "# revision: 2\n", "# revision: 0\n", "plan.csv:8"},
		{"procedure short", "# procedure: fish repeats=3", "# procedure: fish", "such as mixed repeats=3"},
		{"procedure impossible", "minutes=20", "minutes=0", "0 minutes a run"},
		{"procedure too long", "minutes=20", "minutes=420", "a day long enough"},
		{"procedure twice", "# procedure: fish", "# procedure: fish repeats=3 minutes=20 rest_s=0 batch=0\n# procedure: fish", "a second time"},
		{"control half", "# control: unit-r balls", "# control: unit-r", "one control"},
		{"day turned", "# day: 2026-11-06", "# day: 2026-11-02", "order of time"},
		{"no such bench", "# unplanned: 2026-11-03 bench-1", "# unplanned: 2026-11-03 bench-9", "expected such as"},
		{"header", "number,day", "nr,day", "expected number,day"},
		{"semicolons", strings.Join(header, ","), strings.Join(header, ";"), "save with commas"},
		{"cells", slot(4), "1,2\n", "found 2 cells"},
		{"line gone", slot(6), "", "all numbers from 1"},
		{"last number gone", slot(len(p.Slots) - 1), "", "all numbers from 1"},
		{"line twice", slot(6), slot(6) + slot(6), "each number once"},
		{"date rewritten", "7,2026-11-03,", "7,3/11/26,", "format the column as text"},
		{"start", ",09:00,0,control", ",9am,0,control", "a time such as 10:35"},
		{"outcome", ",done\n", ",ok\n", `outcome "ok"`},
		{"void without reason", ",done\n", ",void\n", `outcome "void"`},
		{"why", ",planned,", ",because,", `why "because"`},
		{"replaces what is not", ",replaces 3,", ",replaces 4,", "an earlier number of the same unit"},
		{"repeat", ",1,09:15,", ",9,09:15,", "repeat 9"},
		{"revision to come", ",planned,1,", ",planned,3,", `revision "3"`},
		{"quote", "# revision", "\"# revision", "quote"},
		{"comment below", slot(2), slot(2) + "# seed: 1\n", "below the header"},
		{"block torn", slot(3), strings.Replace(slot(3), "2026-11-03", "2026-11-04", 1), "one batch, day, bench and procedure"},
		{"control moved", ",control,", ",planned,", "the control as stated above"},
	} {
		if !strings.Contains(text, test.old) {
			t.Errorf("%s: the plan has no %q", test.name, test.old)
			continue
		}
		got, err := Read(strings.NewReader(strings.Replace(text, test.old, test.new, 1)), "plan.csv")
		var at *rig.FileError
		if !errors.As(err, &at) || !strings.Contains(err.Error(), test.want) || got.Slots != nil {
			t.Errorf("%s: got %v, want %q", test.name, err, test.want)
		}
	}
}

// Lines cannot be dropped from the end either.
func TestReadFewer(t *testing.T) {
	p, _ := smallLab(t)
	p.Slots = p.Slots[:len(p.Slots)-1]
	if _, err := Read(strings.NewReader(written(t, p)), "plan.csv"); err == nil || !strings.Contains(err.Error(), "no line for unit unit-b, procedure mixed, repeat 3") {
		t.Errorf("got %v", err)
	}
}

func TestReadFails(t *testing.T) {
	if _, err := Read(io.MultiReader(strings.NewReader("# seed: 1\n"), iotest.ErrReader(io.ErrUnexpectedEOF)), "plan.csv"); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("got %v", err)
	}
	if _, err := Read(strings.NewReader(strings.Repeat("#\n", maxFile/2+1)), "plan.csv"); err == nil || !strings.Contains(err.Error(), "16 MiB") {
		t.Errorf("got %v", err)
	}
}

// FuzzRead: what is read is written and read the same, whole or drop by drop, and can be re-planned.
func FuzzRead(f *testing.F) {
	first, second := smallLab(f)
	f.Add([]byte(written(f, first)), 2)
	f.Add([]byte(written(f, second)), 5)
	f.Fuzz(func(t *testing.T, text []byte, void int) {
		p, err := Read(bytes.NewReader(text), "plan.csv")
		drip, errDrip := Read(iotest.OneByteReader(bytes.NewReader(text)), "plan.csv")
		if !reflect.DeepEqual(p, drip) || !reflect.DeepEqual(err, errDrip) {
			t.Fatalf("whole %v, drop by drop %v", err, errDrip)
		}
		if err != nil {
			if !reflect.DeepEqual(p, Plan{}) {
				t.Fatalf("%v, and yet a plan", err)
			}
			return
		}
		again(t, p)
		q, err := p.Replan([]Outcome{{Slot: void, What: Void, Reason: "fed wrong"}})
		if err == nil {
			again(t, q)
		}
		p.Balance()
		if err := p.List(io.Discard, nil); err != nil {
			t.Fatal(err)
		}
	})
}

func again(t *testing.T, p Plan) {
	t.Helper()
	text := written(t, p)
	q, err := Read(strings.NewReader(text), "plan.csv")
	if err != nil || !reflect.DeepEqual(p, q) {
		t.Fatalf("%v\nwritten:\n%s", err, text)
	}
}
