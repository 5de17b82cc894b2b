package config

import (
	"maps"
	"os"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"quern/rig"
)

// handLab is the example lab with a hand.csv.
func handLab(t testing.TB, text string) (*Lab, fstest.MapFS) {
	t.Helper()
	l := mustRead(t, os.DirFS("../testdata/lab"))
	return l, fstest.MapFS{HandFile: file(text)}
}

// What is written reads back, and nothing in it can start a formula in a spreadsheet.
func TestHandRoundTrip(t *testing.T) {
	want := []rig.HandValue{
		{Unit: "unit-a", Name: "build", Value: 7.5, U: 0.5, Note: `a "solid" housing, no play`, Who: "ann", At: time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)},
		{Unit: "unit-b", Name: "price", Value: 249, Note: "list price\nof the shop", Who: "bo", At: time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)},
	}
	text := HandHeader()
	for _, v := range want {
		text += HandLine(v)
	}
	l, fsys := handLab(t, text)
	got, err := l.ReadHand(fsys)
	want[1].Note = "list price of the shop"
	if err != nil || len(got) != 2 || got[0] != want[0] || got[1] != want[1] {
		t.Fatalf("got %+v, %v", got, err)
	}
	if line := HandLine(rig.HandValue{Note: "=1+1"}); !strings.Contains(line, ",'=1+1,") {
		t.Errorf("a formula: %q", line)
	}
	if got, err := l.ReadHand(fstest.MapFS{}); got != nil || err != nil {
		t.Errorf("no file: %v, %v", got, err)
	}
}

func TestHandRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"unit,value\n": `hand.csv:1: found the header "unit,value", expected unit,name,value,u,note,who,at`,
		HandHeader() + "unit-x,build,7,,,ann,2026-03-01T10:00:00Z\n":   `hand.csv:2: found no unit "unit-x"`,
		HandHeader() + "unit-a,biuld,7,,,ann,2026-03-01T10:00:00Z\n":   `hand.csv:2: found no criterion entered by hand "biuld", expected one of build, installation, price: did you mean build?`,
		HandHeader() + "unit-a,build,seven,,,ann,2026-03-01T10:00:00Z": `hand.csv:2: found value "seven", expected a number`,
		HandHeader() + "unit-a,build,NaN,,,ann,2026-03-01T10:00:00Z":   `hand.csv:2: found value "NaN"`,
		HandHeader() + "unit-a,build,7,-1,,ann,2026-03-01T10:00:00Z":   `hand.csv:2: found u "-1"`,
		HandHeader() + "unit-a,build,7,,,ann,yesterday":                `hand.csv:2: found at "yesterday"`,
		HandHeader() + "unit-a,build,7\n":                              `hand.csv:2: found 3 fields`,
		HandHeader() + "unit-a,\"build,7\n":                            `hand.csv:`,
	} {
		l, fsys := handLab(t, text)
		got, err := l.ReadHand(fsys)
		if err == nil || !strings.HasPrefix(err.Error(), want) || got != nil {
			t.Errorf("%q: got %v, %v; want %s", text, got, err, want)
		}
	}
}

// FuzzReadHand: nothing that a file may hold panics, and what reads is written and read back the same.
func FuzzReadHand(f *testing.F) {
	f.Add(HandHeader() + "unit-a,build,7,0.5,note,ann,2026-03-01T10:00:00Z\n")
	f.Add("\"")
	l, _ := handLab(f, "")
	f.Fuzz(func(t *testing.T, text string) {
		fsys := fstest.MapFS{HandFile: file(text)}
		got, err := l.ReadHand(fsys)
		if err != nil {
			return
		}
		again := HandHeader()
		for _, v := range got {
			again += HandLine(v)
		}
		maps.Copy(fsys, fstest.MapFS{HandFile: file(again)})
		back, err := l.ReadHand(fsys)
		if err != nil || len(back) != len(got) {
			t.Fatalf("%q: %v", again, err)
		}
		for i := range got {
			if back[i].Value != got[i].Value || back[i].Unit != got[i].Unit || !back[i].At.Equal(got[i].At) {
				t.Fatalf("%+v became %+v", got[i], back[i])
			}
		}
	})
}
