package report

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"quern/rig"
	"quern/rig/score"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares with a file in testdata.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs (go test -update writes it anew); got:\n%s\nwant:\n%s", file, got, want)
	}
}

// heardOnly is a session without a clamp, with an absent background and a name too long.
func heardOnly() rig.Result {
	no := rig.Absent("no-current")
	return rig.Result{
		Session: "invented-heard-only-" + strings.Repeat("x", 40), Unit: "unit-d", Procedure: "mixed",
		Runs: []rig.Run{{
			StartS: rig.Fig(3599.96), EndS: rig.Fig(3720), RunTimeS: rig.Fig(120.04),
			Events: []rig.Event{ev(rig.MotorStart, 3599.96, 0.1, 0.6, "the level rose by 31 dB"), ev(rig.MotorStop, 3720, 0.5, 0.4, "the level fell\nby 30 dB")},
			Sound:  rig.Sound{LAeqDB: rig.Fig(79.96), LAFmaxDB: rig.Fig(90.04), LCpeakDB: rig.Absent("microphone-clipped")},
			Motor:  rig.Motor{IdleA: no, MeanA: no, MaxA: no, InrushA: no, FrequencyHz: no},
		}},
		Warnings: []rig.Warning{
			{Code: "microphone-clipped", Text: "31 samples of run 1 were clipped: its levels are at least what is told"},
			{Code: "no-current", Text: "no current was recorded: starts and stops come from the sound\x1b[31m"},
		},
	}
}

func TestTable(t *testing.T) {
	var b bytes.Buffer
	none := rig.Result{Session: "invented-quiet", Unit: "unit-e", Warnings: []rig.Warning{{Code: "no-run", Text: "no run was found"}}}
	if err := Table(&b, []rig.Result{eventful(), heardOnly(), none}); err != nil {
		t.Fatal(err)
	}
	golden(t, "table.txt", b.Bytes())
	if i := bytes.IndexFunc(b.Bytes(), func(r rune) bool { return unicode.IsControl(r) && r != '\n' }); i >= 0 {
		t.Errorf("a control character at byte %d would reach the terminal", i)
	}
}

func TestTableOfNothing(t *testing.T) {
	var b bytes.Buffer
	if err := Table(&b, nil); err != nil || b.String() != "no sessions\n" {
		t.Errorf("got %q, %v", b.String(), err)
	}
}

func TestEvents(t *testing.T) {
	run := eventful().Runs[0]
	run.Events = append(run.Events, rig.Event{Kind: "other_kind", Evidence: "an event\tof which\nnothing is known"})
	var b bytes.Buffer
	if err := Events(&b, run); err != nil {
		t.Fatal(err)
	}
	golden(t, "events.txt", b.Bytes())
	b.Reset()
	if err := Events(&b, rig.Run{}); err != nil || b.String() != "no events\n" {
		t.Errorf("no events: got %q, %v", b.String(), err)
	}
}

// Where there was no current, nobody looked for stalls: their number is not 0.
func TestCountsAreAbsentWithoutCurrent(t *testing.T) {
	for _, c := range []struct {
		name string
		res  rig.Result
		want string
	}{
		{"current", eventful(), "1"},
		{"no current", heardOnly(), "-a"},
	} {
		got := cells(c.res, c.res.Runs[0], &footnotes{codes: []string{"no-current"}})
		for _, i := range []int{10, 11, 12} { // stalls, overloads, trips
			if got[i] != c.want {
				t.Errorf("%s: cell %d is %q, want %q", c.name, i, got[i], c.want)
			}
		}
	}
}

func TestDigits(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{minutes(0), "0:00.0"},
		{minutes(4.21), "0:04.2"},
		{minutes(59.96), "1:00.0"}, // not 0:60.0
		{minutes(119.949), "1:59.9"},
		{minutes(3905), "65:05.0"},
		{minutes(-0.04), "0:00.0"}, // not -0:00.0
		{minutes(-61.5), "-1:01.5"},
		{AtWords(3905), "65:05.0"},
		{AtWords(86400), "1 day later"},
		{AtWords(23375482.5), "270 days later"},
		{TraceWords(score.Trace{What: "weighing", Fact: 3, AtS: rig.Fig(4.21), Text: "chamber"}), "weighing 3 at 0:04.2: chamber"},
		{TraceWords(score.Trace{What: "weighing", Fact: 3, AtS: rig.Fig(2 * 86400), Text: "chamber"}), "weighing 3, 2 days later: chamber"},
		{amperes(3.904), "3.90"},
		{amperes(9.994), "9.99"},
		{amperes(9.996), "10.0"}, // not 10.00
		{amperes(31.84), "31.8"},
		{amperes(-0.001), "0.00"},
		{decibels(79.96), "80.0"},
		{decibels(-0.04), "0.0"},
		{letter(0), "a"}, {letter(25), "z"}, {letter(26), "aa"}, {letter(51), "az"}, {letter(52), "ba"},
		{Clean("a\x1b[31m\tb\xff\u200b"), "a?[31m b??"},
		{cut("12345", 5), "12345"}, {cut("123456", 5), "1234…"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestEveryKindHasWords(t *testing.T) {
	seen := map[string]rig.Kind{}
	for _, k := range rig.Kinds {
		w := KindWords(k)
		if other, ok := seen[w]; ok || strings.Contains(w, "_") || w == "" {
			t.Errorf("%s is told as %q (as is %q)", k, w, other)
		}
		seen[w] = k
	}
}
