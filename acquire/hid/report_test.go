package hid

import (
	"bytes"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"quern/rig"
)

// table reads a table of testdata/reference: one map from column to cell a row.
func table(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/reference/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, c := range rows[0] {
			m[c] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func hexBytes(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Every example of testdata/reference/hid_scale_reports.csv (layout of the USB-IF HID Point of Sale usage
// tables, from memory; values computed).
func TestReportsOfTheTable(t *testing.T) {
	marks := map[string]rig.Mark{"Weight Stable": rig.Yes, "Stable at Center of Zero": rig.Yes, "In Motion": rig.No, "Under Zero": rig.Unsaid}
	rows := table(t, "hid_scale_reports.csv")
	if len(rows) < 8 {
		t.Fatalf("only %d rows", len(rows))
	}
	fromDescriptor, err := Layouts(hexBytes(t, usualDescriptor))
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		b := hexBytes(t, row["report_hex"])
		w, err := Usual().Report(b)
		if err != nil {
			t.Errorf("%s: %v", row["report_hex"], err)
			continue
		}
		if v, err := fromDescriptor[0].Report(b); err != nil || v != w {
			t.Errorf("%s: by the descriptor %+v, %v; by the usual layout %+v", row["report_hex"], v, err, w)
		}
		if row["grams"] == "" {
			if w.None == "" {
				t.Errorf("%s: %+v, expected no weight", row["report_hex"], w)
			}
			continue
		}
		want, err := strconv.ParseFloat(row["grams"], 64)
		if err != nil {
			t.Fatal(err)
		}
		if w.None != "" || w.Other || !(math.Abs(w.MassG-want) <= 1e-12*math.Abs(want)) || w.Stable != marks[row["status"]] {
			t.Errorf("%s: %+v, expected %v g, %s", row["report_hex"], w, want, row["status"])
		}
	}
}

// Unit and status codes by testdata/reference/hid_scale.csv (USB-IF HID Usage Tables, page 0x8D).
func TestCodesOfTheTable(t *testing.T) {
	units, states := 0, 0
	for _, row := range table(t, "hid_scale.csv") {
		code, _ := strconv.Atoi(row["code"])
		switch row["kind"] {
		case "unit":
			units++
			w, err := Usual().Report([]byte{3, statusStable, byte(code), 0, 7, 0})
			if row["grams_per_unit"] == "" {
				if err == nil {
					t.Errorf("%s: got %+v, expected a refusal", row["name"], w)
				}
				continue
			}
			want, _ := strconv.ParseFloat(row["grams_per_unit"], 64)
			if err != nil || want == 0 || !(math.Abs(w.MassG-7*want) <= 1e-12*want*7) {
				t.Errorf("%s: %+v, %v, expected %v g", row["name"], w, err, 7*want)
			}
		case "status":
			states++
			w, err := Usual().Report([]byte{3, byte(code), 2, 0, 7, 0})
			if err != nil {
				t.Errorf("%s: %v", row["name"], err)
			}
			carries := map[string]bool{"Stable at Center of Zero": true, "In Motion": true, "Weight Stable": true, "Under Zero": true}[row["name"]]
			if carries != (w.None == "") {
				t.Errorf("%s: %+v, carries a weight: %v", row["name"], w, carries)
			}
		}
	}
	if units != 12 || states != 8 {
		t.Errorf("%d units and %d states in the table, expected 12 and 8", units, states)
	}
}

func TestReportsThatCarryNothing(t *testing.T) {
	for _, tc := range []struct{ hex, why string }{
		{"", "an empty report, expected report 3"},
		{"03", "a report of 0 bytes, expected 5"},
		{"03 04 02 00 C4", "a report of 4 bytes, expected 5"},
		{"03 00 02 00 C4 09", "status code 0, expected 1 to 8"},
		{"03 09 02 00 C4 09", "status code 9, expected 1 to 8"},
		{"03 04 00 00 C4 09", "unit code 0"},
		{"03 04 05 00 C4 09", "unit code 5"},
		{"03 04 0D 00 C4 09", "unit code 13"},
		{"03 04 02 7F C4 09", "power of ten 127"},
		{"03 04 02 80 C4 09", "power of ten -128"},
	} {
		w, err := Usual().Report(hexBytes(t, tc.hex))
		if err == nil || !strings.Contains(err.Error(), tc.why) || w != (Weight{}) {
			t.Errorf("%q: %+v, %v, expected %s", tc.hex, w, err, tc.why)
		}
	}
	if w, err := Usual().Report([]byte{4, 4, 2, 0, 1, 0}); err != nil || !w.Other {
		t.Errorf("report 4: %+v, %v", w, err)
	}
	if w, err := Usual().Report([]byte{3, statusUnderZero, 2, 0, 0, 0}); err != nil || w.None == "" {
		t.Errorf("below zero by an amount not told: %+v, %v", w, err)
	}
	if w, err := Usual().Report([]byte{3, statusZero, 0, 0, 0, 0}); err != nil || w.MassG != 0 || w.Stable != rig.Yes {
		t.Errorf("zero in no unit: %+v, %v", w, err)
	}
}

// usualDescriptor declares the usual layout: the form of the standard's example, from memory.
const usualDescriptor = "05 8D 09 20 A1 01" +
	" 85 03 09 32 A1 02" +
	" 75 08 95 01 15 01 25 08 09 70 A1 02 09 71 09 72 09 73 09 74 09 75 09 76 09 77 09 78 81 00 C0" +
	" 15 01 25 0C 09 50 A1 02 19 51 29 5C 81 00 C0" +
	" 15 81 25 7F 09 41 81 02" +
	" 15 00 27 FF FF 00 00 75 10 09 40 81 02" +
	" C0 C0"

const mouseDescriptor = "05 01 09 02 A1 01 09 01 A1 00 05 09 19 01 29 03 15 00 25 01 95 03 75 01 81 02 95 01 75 05 81 01 05 01 09 30 09 31 15 81 25 7F 75 08 95 02 81 06 C0 C0"

func TestLayouts(t *testing.T) {
	for _, tc := range []struct {
		name, descriptor, report string
		want                     Weight
	}{
		{"no report ids, unit before status, 32 bits with sign",
			"05 8D 09 20 A1 01 75 08 95 01 15 01 25 0C 19 51 29 5C 81 00 25 08 19 71 29 78 81 00 09 41 81 02 16 00 80 75 20 09 40 81 02 C0",
			"02 04 FF 38 FF FF FF", Weight{MassG: -20, Stable: rig.Yes}},
		{"report 7, padding of 4 bits, status of 4 bits, a weight of 24 bits",
			"05 8D A1 01 85 07 75 04 95 01 81 01 15 01 25 08 19 71 29 78 81 00 75 08 25 0C 19 51 29 5C 81 00 15 00 75 18 09 40 81 02 C0",
			"07 30 02 01 00 01", Weight{MassG: 65537, Stable: rig.No}},
		{"weight as two bytes, exponent of the item, usages of four bytes",
			"06 8D 00 A1 01 85 03 75 08 95 01 15 01 25 08 1B 71 00 8D 00 2B 78 00 8D 00 81 00 25 0C 19 51 29 5C 81 00 15 00 55 0F 95 02 09 40 81 02 C0",
			"03 04 02 D2 04", Weight{MassG: 123.4, Stable: rig.Yes}},
		{"status as flags, of which over the limit wins",
			"05 8D A1 01 85 03 75 01 95 08 15 00 25 01 19 71 29 78 81 02 75 08 95 01 15 01 25 0C 19 51 29 5C 81 00 15 00 75 10 09 40 81 02 C0",
			"03 24 02 01 00", Weight{None: "the load is above the scale's limit: take some off"}},
		{"status as flags",
			"05 8D A1 01 85 03 75 01 95 08 15 00 25 01 19 71 29 78 81 02 75 08 95 01 15 01 25 0C 19 51 29 5C 81 00 15 00 75 10 09 40 81 02 C0",
			"03 08 02 01 00", Weight{MassG: 1, Stable: rig.Yes}},
		{"globals pushed and popped, a long item, a report before it",
			"05 8D A1 01 85 01 75 08 95 05 09 30 81 02 85 03 95 01 15 01 25 08 19 71 29 78 81 00 A4 75 20 B4 FE 02 00 AA BB 25 0C 19 51 29 5C 81 00 15 00 75 10 09 40 81 02 C0",
			"03 04 03 02 00", Weight{MassG: 2000, Stable: rig.Yes}},
		{"usual, and longer than declared", usualDescriptor, "03 04 0B FF 4B 00 00 00", Weight{MassG: 7.5 * 28.349523125, Stable: rig.Yes}},
		{"usual, another report", usualDescriptor, "01 04 0B FF 4B 00", Weight{Other: true}},
	} {
		l, err := Layouts(hexBytes(t, tc.descriptor))
		if err != nil || len(l) != 1 {
			t.Errorf("%s: %d layouts, %v", tc.name, len(l), err)
			continue
		}
		w, err := l[0].Report(hexBytes(t, tc.report))
		if err != nil || w.Stable != tc.want.Stable || w.None != tc.want.None || w.Other != tc.want.Other || !(math.Abs(w.MassG-tc.want.MassG) <= 1e-9) {
			t.Errorf("%s: %+v, %v, expected %+v", tc.name, w, err, tc.want)
		}
	}
}

func TestLayoutsRefused(t *testing.T) {
	for _, tc := range []struct{ descriptor, why string }{
		{"", "no report with"},
		{mouseDescriptor, "no report with"},
		{"05 8D 09 20 A1 01 75 08", "no report with"},
		{"05", "cut off"},
		{"FE 09 00", "cut off"},
		{"B4", "a pop without a push"},
		{"85 00", "report id 0"},
		{"05 8D 27 FF FF FF 7F 97 FF FF FF FF 77 FF FF FF FF 09 40 81 02", "bits"},
		{strings.Repeat("A4 ", 65), "pushes"},
	} {
		if l, err := Layouts(hexBytes(t, tc.descriptor)); err == nil || !strings.Contains(err.Error(), tc.why) || l != nil {
			t.Errorf("%s: %d layouts, %v, expected %s", tc.descriptor, len(l), err, tc.why)
		}
	}
	if Weighing(hexBytes(t, mouseDescriptor)) || !Weighing(hexBytes(t, usualDescriptor)) {
		t.Error("a mouse is a scale, or a scale is none")
	}
}

// FuzzReport: a report is a finite mass, a reason, or an error, and never more than one of them; what
// follows the declared length never matters.
func FuzzReport(f *testing.F) {
	for _, row := range table(f, "hid_scale_reports.csv") {
		f.Add(hexBytes(f, usualDescriptor), hexBytes(f, row["report_hex"]))
	}
	f.Add(hexBytes(f, mouseDescriptor), []byte{1, 2, 3})
	f.Fuzz(func(t *testing.T, descriptor, report []byte) {
		layouts, err := Layouts(descriptor)
		if (err == nil) != (len(layouts) > 0) {
			t.Fatalf("%d layouts and %v", len(layouts), err)
		}
		if err == nil && !Weighing(descriptor) {
			t.Fatalf("a layout of what is no weighing device: % x", descriptor)
		}
		for _, l := range append(layouts, Usual()) {
			w, err := l.Report(report)
			if err != nil && w != (Weight{}) {
				t.Fatalf("%+v and %v", w, err)
			}
			if math.IsNaN(w.MassG) || math.IsInf(w.MassG, 0) || (w.None != "" || w.Other) && w.MassG != 0 {
				t.Fatalf("%+v", w)
			}
			if len(report)*8 >= l.bits+8 {
				if v, again := l.Report(append(bytes.Clone(report), 0xFF)); v != w || fmt.Sprint(again) != fmt.Sprint(err) {
					t.Fatalf("%+v, %v with a byte more, %+v, %v without", v, again, w, err)
				}
			}
		}
	})
}
