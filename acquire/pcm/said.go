package pcm

import (
	"bytes"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Bounds of what is kept of the recorder's messages; the project's own choice.
const (
	lineBytes = 300 // of one line
	linesKept = 24  // last lines, for the error at the end
	longestS  = 600 // an overrun said to be longer is a clock that was set
)

// loss is one overrun: the card's buffer was full, and what came was lost.
type loss struct {
	at     int64   // bytes delivered before it
	lateS  float64 // from the moment the buffer was full; -1: not known
	buffer int64   // frames in the buffer, which are lost with it
}

// frames returns how many frames were lost, and false if that is not known.
func (l loss) frames(rateHz float64) (int64, bool) {
	if l.lateS < 0 {
		return 0, false
	}
	return l.buffer + int64(math.Round(l.lateS*rateHz)), true
}

// said understands what the recorder writes on standard error: which settings it got, and where it lost
// samples. Lines are cut, and only the last ones are kept.
type said struct {
	frameBytes int64
	buffer     int64 // frames of the card's buffer, as asked for and then as told
	rateHz     int   // as told; 0: not yet
	setUp      bool  // the first setup has been told in full: the ones below it are of its parts
	status     bool  // within what is told of the state after an overrun
	part       []byte
	lines      []string
	losses     []loss
}

// push takes bytes of standard error that were read when so many bytes of samples had been written.
func (s *said) push(b []byte, written int64) {
	for len(b) > 0 {
		n := bytes.IndexByte(b, '\n')
		if n < 0 {
			s.part = append(s.part, b[:min(len(b), lineBytes-len(s.part))]...)
			return
		}
		s.part = append(s.part, b[:min(n, lineBytes-len(s.part))]...)
		b = b[n+1:]
		s.line(string(s.part), written)
		s.part = s.part[:0]
	}
}

var (
	overrun = regexp.MustCompile(`overrun!!!(?: \(at least (-?[0-9.]+) ms long\))?`)
	setting = regexp.MustCompile(`^\s+(rate|buffer_size|boundary|avail)\s*: (\d+)\s*$`)
)

func (s *said) line(l string, written int64) {
	if m := overrun.FindStringSubmatch(l); m != nil {
		s.status = true
		s.lose(loss{at: written, lateS: lengthS(m[1]), buffer: s.buffer})
		return
	}
	if strings.HasPrefix(l, "Suspended.") {
		s.lose(loss{at: written, lateS: -1})
		return
	}
	if m := setting.FindStringSubmatch(l); m != nil {
		v, err := strconv.Atoi(m[2])
		switch {
		case err != nil:
		case m[1] == "rate" && !s.setUp:
			s.rateHz = v
		case m[1] == "buffer_size" && !s.setUp && v > 0:
			s.buffer = int64(v)
		case m[1] == "boundary":
			s.setUp = true
		case m[1] == "avail" && s.status && len(s.losses) > 0 && int64(v) <= 2*s.buffer:
			// What stood unread in the buffer when it was full is thrown away with the overrun.
			last := &s.losses[len(s.losses)-1]
			last.buffer = max(0, last.buffer-s.buffer+int64(v))
			s.status = false
		}
		return
	}
	if t := strings.TrimSpace(l); t != "" && !strings.HasPrefix(l, "  ") {
		if len(s.lines) == linesKept {
			s.lines = append(s.lines[:0], s.lines[1:]...)
		}
		s.lines = append(s.lines, t)
	}
}

// lengthS reads the length of an overrun; -1 if it is not known.
func lengthS(ms string) float64 {
	v, err := strconv.ParseFloat(ms, 64)
	if err != nil || v < 0 || v > longestS*1000 {
		return -1
	}
	return v / 1000
}

// lose notes a loss before the frame that begins at or after l.at. Losses at one place are one.
func (s *said) lose(l loss) {
	l.at = (l.at + s.frameBytes - 1) / s.frameBytes * s.frameBytes
	if n := len(s.losses); n > 0 && (s.losses[n-1].at >= l.at || n >= 1000) {
		last := &s.losses[n-1]
		last.buffer += l.buffer
		if last.lateS < 0 || l.lateS < 0 {
			last.lateS = -1
		} else {
			last.lateS += l.lateS
		}
		return
	}
	s.losses = append(s.losses, l)
}

// wrongRate is what the card delivers if it is not the rate that was asked for, or 0.
func (s *said) wrongRate(want int) int {
	if s.rateHz == 0 || s.rateHz == want {
		return 0
	}
	return s.rateHz
}
