package captions

import (
	"bytes"
	"fmt"
	"math"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"quern/rig"
	"quern/rig/report/align"
)

// TestReader holds the reader that the other tests trust to the tables.
func TestReader(t *testing.T) {
	for _, r := range rows(t, "webvtt.csv") {
		ms, ok := millisOf(r[0])
		if may := r[1] == "yes"; ok != may {
			t.Errorf("%q: may be written %v, expected %v", r[0], ok, may)
		} else if want, _ := strconv.Atoi(r[2]); ok && ms != want {
			t.Errorf("%q: %d ms, expected %d", r[0], ms, want)
		}
	}
	seen := 0
	for _, r := range rows(t, "webvtt_file.csv") {
		file := ""
		switch {
		case r[1] == "file's first line" && strings.HasPrefix(r[0], "one line end"):
			file = "WEBVTT\n00:01.000 --> 00:02.000\nx\n"
		case r[1] == "file's first line":
			file = r[0] + "\n\n00:01.000 --> 00:02.000\nx\n"
		case r[1] == "cue timings":
			file = "WEBVTT\n\n" + r[0] + "\nx\n"
		case r[1] == "cue text" && !strings.HasPrefix(r[0], "empty line"):
			file = "WEBVTT\n\n00:01.000 --> 00:02.000\n" + r[0] + "\n"
		case strings.HasPrefix(r[0], "cues with start"):
			file = "WEBVTT\n\n00:03.000 --> 00:04.000\nx\n\n00:01.000 --> 00:02.000\ny\n"
		case strings.HasPrefix(r[0], "cues 1-4"):
			file = "WEBVTT\n\n00:01.000 --> 00:04.000\nx\n\n00:02.000 --> 00:03.000\ny\n"
		default:
			file = "WEBVTT\n\n00:01.000 --> 00:02.000\nx\n\ny\n"
		}
		seen++
		if _, err := readVTT(file); (err == nil) != (r[2] == "valid") {
			t.Errorf("%q as %s: %v, expected %s", r[0], r[1], err, r[2])
		}
	}
	if seen < 15 {
		t.Errorf("%d rules were looked at", seen)
	}
	// What the writer's stamps are.
	for _, r := range rows(t, "webvtt.csv") {
		if ms, err := strconv.ParseInt(r[2], 10, 64); err == nil && r[1] == "yes" {
			if got, ok := millisOf(stamp(ms, '.')); !ok || int64(got) != ms {
				t.Errorf("%d ms are written %q", ms, stamp(ms, '.'))
			}
		}
	}
}

func TestCaptions(t *testing.T) {
	s := shown()
	cues, err := readVTT(text(t, func(b *bytes.Buffer) error { return s.CaptionsVTT(b) }))
	if err != nil {
		t.Fatal(err)
	}
	if len(cues) < 12 {
		t.Fatalf("only %d cues", len(cues))
	}
	all := ""
	for i, c := range cues {
		n := 0
		for _, l := range c.lines {
			n += utf8.RuneCountInString(l)
			if utf8.RuneCountInString(l) > 42 {
				t.Errorf("%q is longer than a line", l)
			}
		}
		d := float64(c.toMS-c.fromMS) / 1000
		if len(c.lines) < 1 || len(c.lines) > 2 {
			t.Errorf("cue %d has %d lines", i, len(c.lines))
		}
		if d < 0.9 || float64(n)/d > 20 { // 17 a second, less the pause between cues
			t.Errorf("%q stands for %.2f s: %.1f characters a second", c.lines, d, float64(n)/d)
		}
		if i > 0 && c.fromMS < cues[i-1].toMS {
			t.Errorf("%q begins before %q ends", c.lines, cues[i-1].lines)
		}
		all += fmt.Sprintf("%6d %6d %s\n", c.fromMS, c.toMS, strings.Join(c.lines, " | "))
	}
	t.Log("\n" + all)
	for _, want := range []string{"Motor start", "Load start", "Stall start", "Stall end", "Chamber clear", "rip (presumed)", "Motor stop?",
		"LAeq 82.3 dB", "mean 5.13 A", "largest 31.8 A", "unit-a", "82 dB(A), 5.1 A", "Run 1: time 0:50.0"} {
		if !strings.Contains(strings.ToLower(all), strings.ToLower(want)) {
			t.Errorf("no cue says %q", want)
		}
	}
	// 10 s of the session are (10 - 5) / (1 + 100e-6) s of the camera.
	if got, want := cues[0].fromMS, 5000; got != want && got != want-1 {
		t.Errorf("the motor starts at %d ms, expected %d", got, want)
	}
	if got, want := cues[len(cues)-1].fromMS, 104990; got < want-5 || got > want+8 { // (110 - 5) / 1.0001
		t.Errorf("the last stop is told at %d ms, expected %d", got, want)
	}
}

// TestDigitsStandStill: a figure that trembles about the edge between two digits keeps one of them.
func TestDigitsStandStill(t *testing.T) {
	s := shown()
	for k := range s.Level.V {
		s.Level.V[k] = 82.5 + 0.2*float32(math.Sin(float64(k)))
	}
	shown := map[string]bool{}
	for _, c := range s.Cues() {
		for _, l := range c.Lines {
			if m := regexp.MustCompile(`\d+ dB\(A\)`).FindString(l); m != "" {
				shown[m] = true
			}
		}
	}
	if len(shown) != 1 {
		t.Errorf("the level was told as %v, expected one figure", shown)
	}
}

// TestFiguresEndWhereTheStateDoes: what flows after the stop, or before a restart, is not in the figures told of a state,
// however the columns of the curves fall about it.
func TestFiguresEndWhereTheStateDoes(t *testing.T) {
	for _, offset := range []float64{0.05, 0.11, 0.2} {
		s := shown()
		s.Camera = align.Alignment{}
		s.Current = Curve{FromS: -offset, StepS: 0.25}
		for k := range 4 * 130 {
			on, columns := 0.0, 50
			for j := range columns { // a mean over its column, as the series has it
				at := (float64(k)+float64(j)/float64(columns))/4 - offset
				if state, _ := s.stateAt(at); state != rig.Off {
					on += 1 / float64(columns)
				}
			}
			s.Current.V = append(s.Current.V, float32(5.1*on))
		}
		told := 0
		for _, c := range s.Cues() {
			text := strings.Join(c.Lines, " ")
			if !strings.Contains(text, " A") || strings.Contains(text, "largest") {
				continue
			}
			if told++; !strings.Contains(text, "5.1 A") {
				t.Errorf("at %.2f s: %q, expected 5.1 A: the current of the state", c.FromS, text)
			}
		}
		if told < 5 {
			t.Errorf("only %d cues tell a current", told)
		}
	}
}

func TestAbsent(t *testing.T) {
	s := shown()
	s.Level, s.Current = Curve{}, Curve{StepS: 0.5, V: make([]float32, 260)}
	for k := range s.Current.V {
		s.Current.V[k] = float32(math.NaN())
	}
	s.Result.Runs[0].Sound, s.Result.Runs[0].Motor = rig.Sound{}, rig.Motor{}
	for _, c := range s.Cues() {
		if l := strings.Join(c.Lines, " "); strings.Contains(l, "dB") || strings.Contains(l, " A") || strings.Contains(l, "NaN") {
			t.Errorf("%q tells what was not measured", l)
		}
	}
}

func TestMasses(t *testing.T) {
	s := shown()
	s.Masses = Ounces
	// 2481 g / 28.349523125 g = 87.5 oz (NIST SP 811, appendix B.8: 1 oz = 28.349523125 g)
	if got := text(t, func(b *bytes.Buffer) error { return s.CaptionsSRT(b) }); !strings.Contains(got, ", 87.5 oz") {
		t.Error("no mass of 87.5 oz")
	}
}

// TestCrowd: what happens faster than one can read is told together, and nothing is left out.
func TestCrowd(t *testing.T) {
	s := shown()
	r := &s.Result.Runs[0]
	r.Events = nil
	for k := range 40 {
		kind := rig.MotorStart
		if k%2 == 1 {
			kind = rig.MotorStop
		}
		r.Events = append(r.Events, rig.Event{Kind: kind, AtS: rig.Fig(10 + 0.2*float64(k)), Sure: rig.Fig(1)})
	}
	told := 0
	for _, c := range s.Cues() {
		l := strings.Join(c.Lines, " ")
		if c.FromS > 40 {
			break
		}
		for _, m := range regexp.MustCompile(`(?i)(?:(\d+) x )?motor st`).FindAllStringSubmatch(l, -1) {
			n, err := strconv.Atoi(m[1])
			if err != nil {
				n = 1
			}
			told += n
		}
	}
	if told != 40 {
		t.Errorf("%d of 40 events are told", told)
	}
}

func TestSubRip(t *testing.T) {
	s := shown()
	got := text(t, func(b *bytes.Buffer) error { return s.CaptionsSRT(b) })
	checkSRT(t, got)
	// A program of other making reads the same cues.
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("no ffmpeg: SubRip is not read by another program")
	}
	cmd := exec.Command(ffmpeg, "-nostdin", "-loglevel", "error", "-f", "srt", "-i", "-", "-f", "webvtt", "-")
	cmd.Stdin = strings.NewReader(got)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("ffmpeg: %v", err)
	}
	cues, err := readVTT(string(out))
	if err != nil {
		t.Fatal(err)
	}
	want := inMillis(s.Cues())
	if len(cues) != len(want) {
		t.Fatalf("ffmpeg reads %d cues, expected %d", len(cues), len(want))
	}
	for i, c := range cues {
		if int64(c.fromMS) != want[i].from || int64(c.toMS) != want[i].to || strings.Join(c.lines, "\n") != strings.Join(want[i].lines, "\n") {
			t.Errorf("ffmpeg reads %+v, expected %+v", c, want[i])
		}
	}
}

// checkSRT holds a file to what players agree on (common practice).
func checkSRT(t testing.TB, s string) {
	t.Helper()
	if strings.Contains(strings.ReplaceAll(s, "\r\n", ""), "\n") || !utf8.ValidString(s) {
		t.Fatal("a line does not end in CR LF, or no UTF-8")
	}
	last := ""
	for i, block := range strings.Split(strings.TrimSuffix(s, "\r\n\r\n"), "\r\n\r\n") {
		if s == "" {
			return
		}
		lines := strings.Split(block, "\r\n")
		if len(lines) < 3 || lines[0] != strconv.Itoa(i+1) {
			t.Fatalf("block %d is %q", i+1, block)
		}
		m := regexp.MustCompile(`^(\d\d:\d\d:\d\d,\d{3}) --> (\d\d:\d\d:\d\d,\d{3})$`).FindStringSubmatch(lines[1])
		if m == nil || m[2] <= m[1] || m[1] < last {
			t.Fatalf("block %d has times %q", i+1, lines[1])
		}
		last = m[1]
		for _, l := range lines[2:] {
			if l == "" || strings.ContainsAny(l, "<>{}") || strings.Contains(l, "-->") {
				t.Fatalf("block %d has the line %q", i+1, l)
			}
		}
	}
}

func TestChapters(t *testing.T) {
	s := shown()
	got, err := readVTT(text(t, func(b *bytes.Buffer) error { return s.ChaptersVTT(b) }))
	if err != nil {
		t.Fatal(err)
	}
	var titles []string
	for i, c := range got {
		titles = append(titles, c.lines[0])
		if i > 0 && c.fromMS != got[i-1].toMS {
			t.Errorf("%q begins at %d ms, where the one before ends at %d", c.lines, c.fromMS, got[i-1].toMS)
		}
	}
	want := "Before the start; Run 1: motor start; Run 1: load start; Run 1: stall start; Run 1: chamber clear; Run 1: stall start; Run 1: trip (presumed); Run 2: motor start; Run 2: motor stop?"
	if strings.Join(titles, "; ") != want {
		t.Errorf("found chapters %s\nexpected %s", strings.Join(titles, "; "), want)
	}
}

// TestVeil: names that people gave a session or its footage are in no file when they may not be said.
func TestVeil(t *testing.T) {
	s := shown()
	s.Result.Session, s.File, s.Camera.Camera = "2026-03-02-grand-mill", "Grand_Mill.mp4", "Grand_Mill.wav"
	s.Result.Runs[0].Events[0].Evidence = "the grand mill hums"
	files := map[string]func(*bytes.Buffer) error{
		"captions.vtt": func(b *bytes.Buffer) error { return s.CaptionsVTT(b) }, "captions.srt": func(b *bytes.Buffer) error { return s.CaptionsSRT(b) },
		"chapters.vtt": func(b *bytes.Buffer) error { return s.ChaptersVTT(b) }, "edit-points.otio": func(b *bytes.Buffer) error { return s.Timeline(b) },
		"edit-points.csv": func(b *bytes.Buffer) error { return s.Table(b) }}
	name := regexp.MustCompile(`(?i)grand[-_ ]mill`)
	said := 0
	for _, f := range files {
		if name.MatchString(text(t, f)) {
			said++
		}
	}
	if said != 4 { // SubRip has no place for it
		t.Fatalf("%d files tell the name when it may be said, want 4", said)
	}
	s.Veil = func(text string) string { return name.ReplaceAllString(text, "unit-a") }
	for file, f := range files {
		got := text(t, f)
		if name.MatchString(got) {
			t.Errorf("%s tells the name:\n%s", file, got)
		}
		if file == "edit-points.otio" && (!strings.Contains(got, `"unit-a.mp4"`) || !strings.Contains(got, `"2026-03-02-unit-a"`) || !strings.Contains(got, "the unit-a hums")) {
			t.Errorf("%s has no code in the name's place:\n%s", file, got)
		}
	}
}
