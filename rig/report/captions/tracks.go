package captions

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"quern/rig"
)

// CaptionsVTT writes the captions as WebVTT (W3C).
func (s *Shot) CaptionsVTT(w io.Writer) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "WEBVTT\n\nNOTE\n%s\n", escape(s.heading("Captions")))
	for _, c := range inMillis(s.Cues()) {
		fmt.Fprintf(b, "\n%s --> %s\n", stamp(c.from, '.'), stamp(c.to, '.'))
		for _, l := range c.lines {
			fmt.Fprintln(b, escape(l))
		}
	}
	return b.Flush()
}

// CaptionsSRT writes them as SubRip: no standard, but what players agree on (common practice: numbers from 1,
// a comma before the milliseconds, lines that end in CR LF, UTF-8).
func (s *Shot) CaptionsSRT(w io.Writer) error {
	b := bufio.NewWriter(w)
	for i, c := range inMillis(s.Cues()) {
		fmt.Fprintf(b, "%d\r\n%s --> %s\r\n", i+1, stamp(c.from, ','), stamp(c.to, ','))
		for _, l := range c.lines {
			fmt.Fprint(b, unmarked(l), "\r\n")
		}
		fmt.Fprint(b, "\r\n")
	}
	return b.Flush()
}

// ChaptersVTT writes chapters: from one event that begins something to the next.
func (s *Shot) ChaptersVTT(w io.Writer) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "WEBVTT\n\nNOTE\n%s\n", escape(s.heading("Chapters")))
	for i, c := range inMillis(s.Chapters()) {
		fmt.Fprintf(b, "\nchapter-%d\n%s --> %s\n%s\n", i+1, stamp(c.from, '.'), stamp(c.to, '.'), escape(c.lines[0]))
	}
	return b.Flush()
}

func (s *Shot) heading(what string) string {
	text := what + " of what was measured in session " + s.veiled(s.Result.Session)
	if s.Unit != "" {
		text += ", unit " + s.veiled(s.Unit)
	}
	return text + ". Times are the camera's."
}

// leastChapterS is the shortest chapter that one can jump to, s; what is shorter is joined with what follows.
const leastChapterS = 1.0

// opens tells whether an event opens a chapter.
func opens(k rig.Kind) bool {
	return slices.Contains([]rig.Kind{rig.MotorStart, rig.LoadStart, rig.StallStart, rig.OverloadStart, rig.Trip, rig.LoadEnd, rig.MotorStop}, k)
}

// Chapters returns the chapters of a shot, which follow each other without a gap.
func (s *Shot) Chapters() []Cue {
	fromS, toS := s.span()
	if !(toS > fromS) {
		return nil
	}
	var groups [][]happening
	for _, h := range s.happenings() {
		k := len(groups) - 1
		switch {
		case !opens(h.Kind):
		case k >= 0 && h.run == groups[k][0].run && h.atS-groups[k][0].atS < leastChapterS:
			groups[k] = append(groups[k], h)
		default:
			groups = append(groups, []happening{h})
		}
	}
	title := "Before the start"
	if s.inRun(fromS) {
		title = "The footage begins"
	}
	out := []Cue{{fromS, toS, []string{title}}}
	for _, g := range groups {
		title := gathered(g)
		if len(s.Result.Runs) > 1 {
			title = fmt.Sprintf("Run %d: %s", g[0].run, lower(title))
		}
		k := len(out) - 1
		if g[0].atS-out[k].FromS < leastChapterS && k == 0 {
			out[k].Lines = []string{title}
			continue
		}
		out[k].ToS = g[0].atS
		out = append(out, Cue{g[0].atS, toS, []string{title}})
	}
	return out
}

// inRun tells whether a run is under way at an instant of the camera's clock.
func (s *Shot) inRun(atS float64) bool {
	_, run := s.stateAt(s.Camera.SessionS(atS))
	return run > 0
}

// millis is a cue in the milliseconds of text tracks.
type millis struct {
	from, to int64
	lines    []string
}

// inMillis rounds cues so that each ends after it began, and none begins before the one before it.
func inMillis(cues []Cue) []millis {
	var out []millis
	least := int64(0)
	for _, c := range cues {
		from := max(least, int64(math.Round(1000*c.FromS)))
		to := max(from+1, int64(math.Round(1000*c.ToS)))
		out = append(out, millis{from, to, c.Lines})
		least = from
	}
	return out
}

func stamp(ms int64, point rune) string {
	return fmt.Sprintf("%02d:%02d:%02d%c%03d", ms/3600000, ms/60000%60, ms/1000%60, point, ms%1000)
}

// escape makes text what WebVTT takes for text.
func escape(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(plain(s))
}

// unmarked takes out of a text what players of SubRip take for markup; the form knows no way to write it.
func unmarked(s string) string {
	return strings.NewReplacer("<", "‹", ">", "›", "{", "(", "}", ")").Replace(plain(s))
}

func lower(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
