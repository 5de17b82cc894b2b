package captions

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"quern/rig"
	"quern/rig/report/align"
	"quern/rig/report/timecode"
)

// shown is a session of two runs: a load, a stall that frees itself, a trip, and a second run.
func shown() *Shot {
	at := func(k rig.Kind, s float64) rig.Event {
		return rig.Event{Kind: k, AtS: rig.Fig(s), WithinS: rig.Fig(0.01), Sure: rig.Fig(0.9), Evidence: "current rose from 0 A to 31 A"}
	}
	span := func(s rig.State, a, b float64) rig.Span {
		return rig.Span{State: s, FromS: rig.Fig(a), ToS: rig.Fig(b)}
	}
	first := rig.Run{StartS: rig.Fig(10), EndS: rig.Fig(60), RunTimeS: rig.Fig(50), Events: []rig.Event{
		at(rig.MotorStart, 10), at(rig.LoadStart, 15), at(rig.StallStart, 30), at(rig.StallEnd, 30.8), at(rig.LoadEnd, 45), at(rig.StallStart, 56), at(rig.StallEnd, 60), at(rig.Trip, 60)},
		States: []rig.Span{span(rig.Starting, 10, 10.4), span(rig.NoLoad, 10.4, 15), span(rig.Loaded, 15, 30), span(rig.Stalled, 30, 30.8), span(rig.Loaded, 30.8, 45), span(rig.NoLoad, 45, 56), span(rig.Stalled, 56, 60)}}
	first.Sound.LAeqCorrectedDB, first.Motor.MeanA, first.Motor.MaxA = rig.Fig(82.31749), rig.Fig(5.127), rig.Fig(31.77)
	second := rig.Run{StartS: rig.Fig(100), EndS: rig.Fig(110), Events: []rig.Event{at(rig.MotorStart, 100), at(rig.MotorStop, 110)},
		States: []rig.Span{span(rig.Starting, 100, 100.3), span(rig.NoLoad, 100.3, 110)}}
	second.Events[1].Sure = rig.Fig(0.3)
	s := &Shot{Result: rig.Result{Session: "2026-03-02-a", Runs: []rig.Run{first, second}}, Unit: "unit-a", EndS: 130, Rate: timecode.Rates[2],
		Level: Curve{StepS: 0.5}, Current: Curve{StepS: 0.5}, Mass: Curve{StepS: 0.5}, Camera: align.Alignment{OffsetS: 5, DriftPPM: 100, CameraS: 112}}
	for k := range 260 {
		at := float64(k) / 2
		level, current := 45.0, 0.0
		if state, _ := s.stateAt(at); state != rig.Off {
			level, current = 82.2+0.1*math.Sin(at), 5.13+0.02*math.Cos(3*at)
		}
		s.Level.V = append(s.Level.V, float32(level))
		s.Current.V = append(s.Current.V, float32(current))
		s.Mass.V = append(s.Mass.V, 2481)
	}
	return s
}

func text(t testing.TB, f func(*bytes.Buffer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := f(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// cued is a cue read back.
type cued struct {
	fromMS, toMS int
	lines        []string
}

var vttTime = regexp.MustCompile(`^(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})$`)

func millisOf(s string) (int, bool) {
	m := vttTime.FindStringSubmatch(s)
	if m == nil {
		return 0, false
	}
	n := func(s string) int { v, _ := strconv.Atoi(s); return v }
	return ((n(m[1])*60+n(m[2]))*60+n(m[3]))*1000 + n(m[4]), true
}

// readVTT holds a file to the rules of W3C WebVTT for what may be written, as testdata/reference/webvtt.csv and
// webvtt_file.csv give them.
func readVTT(s string) ([]cued, error) {
	if !utf8.ValidString(s) || strings.ContainsRune(s, 0) {
		return nil, fmt.Errorf("no UTF-8")
	}
	s = strings.TrimPrefix(s, "\ufeff")
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	head, rest, ok := strings.Cut(s, "\n")
	if !ok || head != "WEBVTT" && !strings.HasPrefix(head, "WEBVTT ") && !strings.HasPrefix(head, "WEBVTT\t") {
		return nil, fmt.Errorf("first line %q", head)
	}
	if rest != "" && rest[0] != '\n' {
		return nil, fmt.Errorf("no blank line after the first")
	}
	var out []cued
	ids := map[string]bool{}
	last := 0
	for _, block := range regexp.MustCompile(`\n{2,}`).Split(strings.Trim(rest, "\n"), -1) {
		lines := strings.Split(block, "\n")
		if block == "" {
			continue
		}
		if lines[0] == "NOTE" || strings.HasPrefix(lines[0], "NOTE ") {
			if strings.Contains(block, "-->") {
				return nil, fmt.Errorf("an arrow in a note")
			}
			continue
		}
		if !strings.Contains(lines[0], "-->") {
			if ids[lines[0]] {
				return nil, fmt.Errorf("identifier %q twice", lines[0])
			}
			ids[lines[0]] = true
			lines = lines[1:]
		}
		if len(lines) == 0 {
			return nil, fmt.Errorf("a block without times: %q", block)
		}
		times := regexp.MustCompile(`^(\S+)[ \t]+-->[ \t]+(\S+)$`).FindStringSubmatch(lines[0])
		if times == nil {
			return nil, fmt.Errorf("cue timings %q", lines[0])
		}
		from, ok1 := millisOf(times[1])
		to, ok2 := millisOf(times[2])
		if !ok1 || !ok2 || to <= from || from < last {
			return nil, fmt.Errorf("cue timings %q after %d ms", lines[0], last)
		}
		last = from
		for _, l := range lines[1:] {
			if strings.Contains(l, "-->") || strings.ContainsAny(l, "<") || regexp.MustCompile(`&(?:[^agl]|a[^m]|$)`).MatchString(l) {
				return nil, fmt.Errorf("cue text %q", l)
			}
		}
		out = append(out, cued{from, to, lines[1:]})
	}
	return out, nil
}

// rows reads a table of testdata/reference.
func rows(t testing.TB, name string) [][]string {
	t.Helper()
	b, err := os.ReadFile("../../../testdata/reference/" + name)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(b))
	r.Comment, r.FieldsPerRecord, r.LazyQuotes = '#', -1, true
	all, err := r.ReadAll()
	if err != nil || len(all) < 10 {
		t.Fatalf("%s: %d rows, %v", name, len(all), err)
	}
	return all[1:]
}
