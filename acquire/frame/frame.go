// Package frame reads the readings of scales, level meters and other slow instruments out of the lines of
// text they send. It knows lines by the order of their parts ([config.Frame]), checks their check values,
// and finds its way back after garbage.
//
// What came damaged is never guessed at: it is a reject with a reason. Only a check value finds damage that
// leaves a line well-formed, such as a digit that was lost on the way.
package frame

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"

	"quern/config"
	"quern/rig"
)

// Longest is the length, in bytes, that a frame may have. Real ones are below 40: the project's own choice.
const Longest = 256

// GapS is how long the bytes of one frame may stand apart, s. A character takes 40 ms at the slowest usual
// rate, 300 baud; converters on USB deliver within 20 ms (common practice). What comes after a longer gap
// is not joined to what came before.
const GapS = 1.0

// Kind says what a scale's number stands for.
type Kind string

// Kinds of number, where a frame tells.
const (
	Gross Kind = "gross"
	Net   Kind = "net"
)

// Reading is the number of one frame.
type Reading struct {
	Value  float64  // as sent, decimals applied; of two parts, lb and oz: both together, in ounces
	Unit   string   // g, kg, oz, lb, lb-oz, or another word as sent; empty where the frame names none
	Stable rig.Mark // the stability mark
	Kind   Kind     // empty where the frame does not tell
}

// Found is what came of one frame: a reject or an overload with its reason, or else a reading.
type Found struct {
	Reading    Reading
	Reject     string // why the frame is no reading
	OutOfRange string // what the instrument said instead of a number
}

// Reader takes a stream of bytes apart. It begins in the middle of a frame: what comes before the first end
// is passed over.
type Reader struct {
	cfg      config.Frame
	stable   []string
	unstable []string
	out      []string
	buf      []byte
	synced   bool // the bytes in buf begin a frame
	skipped  int  // bytes passed over since the last end
	last     time.Time
	commas   int // numbers seen whose comma can only be a decimal sign
}

// New returns a reader of the frames that cfg describes.
func New(cfg config.Frame) (*Reader, error) {
	if err := check(cfg); err != nil {
		return nil, err
	}
	return &Reader{cfg: cfg, stable: strings.Fields(cfg.Stable), unstable: strings.Fields(cfg.Unstable),
		out: strings.Fields(cfg.OutOfRange), buf: make([]byte, 0, Longest)}, nil
}

// Synced tells whether the first end has been seen, so that the next frame is read.
func (r *Reader) Synced() bool { return r.synced }

// Partial tells whether a frame has begun and not ended.
func (r *Reader) Partial() bool { return len(r.buf) > 0 || r.skipped > 0 }

// Stalled tells whether a frame has begun and has stood still, at the instant now, for more than GapS.
func (r *Reader) Stalled(now time.Time) bool {
	return r.Partial() && now.Sub(r.last).Seconds() > GapS
}

// PushAt is Push for bytes that were in hand at the instant at. A frame that stood still for more than
// GapS is given up.
func (r *Reader) PushAt(at time.Time, b []byte, to func(Found)) {
	if len(b) == 0 {
		return
	}
	if r.Stalled(at) {
		r.Break(to)
	}
	r.last = at
	r.Push(b, to)
}

// Push takes the next bytes and calls to for every frame that ends in them. How a stream is cut never
// changes what comes of it.
func (r *Reader) Push(b []byte, to func(Found)) {
	for len(b) > 0 {
		i := r.end(b)
		if i < 0 {
			r.add(b, to)
			return
		}
		r.add(b[:i], to)
		b = b[i+1:]
		if r.synced {
			r.frame(to)
		}
		r.buf, r.skipped, r.synced = r.buf[:0], 0, true
	}
}

// Break gives up a frame that has begun: the line was still, or bytes were lost. What comes up to the next
// end is passed over, for it may be the rest of it.
func (r *Reader) Break(to func(Found)) {
	if !r.Partial() {
		return
	}
	if r.synced && len(bytes.TrimSpace(r.buf)) > 0 {
		to(Found{Reject: fmt.Sprintf("%s broke off: look at the plug and the cable", quote(r.buf))})
	}
	r.buf, r.skipped, r.synced = r.buf[:0], 0, false
}

func (r *Reader) end(b []byte) int {
	switch r.cfg.End {
	case "cr":
		return bytes.IndexByte(b, '\r')
	case "lf":
		return bytes.IndexByte(b, '\n')
	case "etx":
		return bytes.IndexByte(b, etx)
	}
	return bytes.IndexAny(b, "\r\n")
}

// add keeps bytes of a frame, or passes over them where a frame has grown too long or none has begun.
func (r *Reader) add(b []byte, to func(Found)) {
	for len(b) > 0 {
		n := min(len(b), Longest-len(r.buf))
		if !r.synced {
			n = min(len(b), Longest-r.skipped)
			r.skipped += n
		} else {
			r.buf = append(r.buf, b[:n]...)
		}
		b = b[n:]
		if r.skipped < Longest && len(r.buf) < Longest {
			return
		}
		// Told once for each stretch of that length, so that a wrong rate shows as rejects.
		to(Found{Reject: fmt.Sprintf("no end of a frame in %d bytes, expected %s: set baud and parity of the port, or frame.end; quern listen finds them", Longest, endWords[r.cfg.End])})
		r.buf, r.skipped, r.synced = r.buf[:0], 0, false
	}
}

const (
	stx = 0x02 // start of text, ISO 646
	etx = 0x03 // end of text, ISO 646
)

var endWords = map[string]string{"line": "CR or LF", "cr": "CR", "lf": "LF", "etx": "ETX"}

// frame reads the frame in buf.
func (r *Reader) frame(to func(Found)) {
	// CR and LF around a frame belong to an end that is longer than the one looked for.
	b := bytes.Trim(r.buf, "\r\n")
	if len(bytes.Trim(b, " \t")) == 0 {
		return
	}
	f, err := r.parse(b)
	if err != nil {
		f = Found{Reject: fmt.Sprintf("%s %v", quote(b), err)}
	}
	to(f)
}

func (r *Reader) parse(b []byte) (Found, error) {
	for i, c := range b {
		switch {
		case c == '\t', i == 0 && c == stx:
		case c >= 0x80:
			return Found{}, fmt.Errorf("holds a byte %#02x that is no ASCII: set baud and parity of the port", c)
		case c < ' ' || c == 0x7f:
			return Found{}, fmt.Errorf("holds a control byte %#02x: damaged on the way, or frame.end is another", c)
		}
	}
	b, err := r.checked(b)
	if err != nil {
		return Found{}, err
	}
	text := strings.TrimPrefix(string(b), "\x02")
	switch r.cfg.Shape {
	case "fields":
		return r.fields(text)
	case "columns":
		return r.columns(text)
	}
	return r.ready(text)
}

// mark tells what a stability mark says. Where a frame has none and only the other kind is listed, its
// absence says the opposite.
func (r *Reader) mark(word string) (rig.Mark, error) {
	switch {
	case word == "" && len(r.stable) == 0 && len(r.unstable) > 0:
		return rig.Yes, nil
	case word == "" && len(r.unstable) == 0 && len(r.stable) > 0:
		return rig.No, nil
	case word == "":
		return rig.Unsaid, nil
	case slices.Contains(r.stable, word):
		return rig.Yes, nil
	case slices.Contains(r.unstable, word):
		return rig.No, nil
	}
	return rig.Unsaid, fmt.Errorf("has a mark %q that is in neither list: add it to frame.stable or frame.unstable", word)
}

// quote shows a frame, shortened.
func quote(b []byte) string {
	const most = 48
	if len(b) > most {
		return fmt.Sprintf("%q...", b[:most])
	}
	return fmt.Sprintf("%q", b)
}
