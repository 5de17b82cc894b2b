package board

import (
	"encoding/hex"
	"fmt"
	"math"
	"strings"
	"time"

	"quern/acquire/frame"
	"quern/config"
	"quern/rig"
)

// Taker takes what a Reader finds.
type Taker interface {
	// Frame takes the values of one frame, in order: fractions of full scale, or amperes. got is the
	// instant at which its last byte was in hand. lost is how many samples are missing before it; -1 if
	// some are, and nobody knows how many. values is valid until Frame returns.
	Frame(got time.Time, lost int64, values []float64)
	// Reject tells of bytes that were no frame, and why.
	Reject(why string)
}

// unknown is a loss of unknown length.
const unknown = -1

// Reader finds the frames in what a board sends. How the bytes are cut into pieces changes nothing.
type Reader struct {
	cfg     config.Board
	rms     bool
	fullA   float64 // A at full scale
	sync    []byte
	number  int    // bytes of a number
	counter int    // bytes of the counter; 0: none
	wrap    uint64 // numbers the counter has
	check   int    // bytes of the check value; 0: none
	split   func(rune) bool

	buf     []byte // an unfinished line or frame
	skip    int    // bytes skipped since the last frame; in text, of a line that is too long
	why     string // the last reason
	told    int    // skipped bytes that have been told of
	atHand  time.Time
	begun   bool // text: the beginning of a line has been seen
	running bool // a frame has been taken
	counted bool // the counter has been seen
	last    uint64
	lost    int64 // since the last frame, without a counter
	values  []float64
}

// NewReader returns a reader of frames as cfg describes them. form is Waveform or RMS. fullScaleA, A, is
// used for RMS values only.
func NewReader(cfg config.Board, form rig.Form, fullScaleA float64) (*Reader, error) {
	bad := func(key string, found any, want, do string) (*Reader, error) {
		return nil, &rig.FileError{File: "clamp.device.board." + key, Byte: -1, Found: fmt.Sprint(found), Want: want, Do: do}
	}
	r := &Reader{cfg: cfg, rms: form == rig.RMS, fullA: fullScaleA}
	if form != rig.RMS && form != rig.Waveform {
		return nil, &rig.FileError{File: "clamp.device.form", Byte: -1, Found: fmt.Sprintf("%q", form), Want: "waveform or rms", Do: "take it from the board's program"}
	}
	if r.rms && !(fullScaleA > 0 && fullScaleA < math.Inf(1)) {
		return nil, &rig.FileError{File: "clamp.full_scale_a", Byte: -1, Found: fmt.Sprint(fullScaleA), Want: "amperes at full scale", Do: "take it from the clamp and the board"}
	}
	known := false
	if r.counter, known = counters[cfg.Counter]; !known {
		return bad("counter", fmt.Sprintf("%q", cfg.Counter), "none, uint8, uint16 or uint32", "take it from the board's program")
	}
	r.wrap = 1 << (8 * r.counter)
	_, digits := frame.Sum(cfg.Checksum, nil)
	if digits == 0 && cfg.Checksum != "none" {
		return bad("checksum", fmt.Sprintf("%q", cfg.Checksum), "none, xor, sum, crc8, crc16-modbus, crc16-ccitt or crc32", "take it from the board's program")
	}
	r.check = digits / 2
	switch {
	case cfg.PerFrame < 1 || cfg.PerFrame > 4096:
		return bad("samples_per_frame", cfg.PerFrame, "1 to 4096", "count the numbers in a line or frame, without the counter")
	case cfg.CountsFull < 1:
		return bad("full_scale_counts", cfg.CountsFull, "1 or more", "32768 for signed numbers of 16 bits, 2048 for a 12-bit converter with its zero in the middle")
	}
	switch cfg.Frames {
	case "text":
		if strings.ContainsAny(cfg.Separator, "+-.*0123456789\r\n") {
			return bad("separator", fmt.Sprintf("%q", cfg.Separator), "what is no part of a number", "take it from what the board sends: quern listen shows it")
		}
		r.split = func(c rune) bool { return c == ' ' || c == ',' || c == '\t' }
		return r, nil
	case "binary":
		if r.number, known = sizes[cfg.Number]; !known {
			return bad("number", fmt.Sprintf("%q", cfg.Number), "int8, uint8, int16, uint16, int24, int32 or float32", "take it from the board's program")
		}
		var err error
		if r.sync, err = hex.DecodeString(strings.ReplaceAll(cfg.Sync, " ", "")); err != nil || len(r.sync) == 0 || len(r.sync) > 16 {
			return bad("sync", fmt.Sprintf("%q", cfg.Sync), `1 to 16 bytes in hexadecimal digits, such as "aa55"`, "take it from the board's program: without sync bytes the beginning of a frame cannot be found")
		}
		return r, nil
	}
	return bad("frames", fmt.Sprintf("%q", cfg.Frames), "text or binary", "take it from what the board sends: quern listen shows it")
}

// Sizes of counters and numbers, bytes.
var (
	counters = map[string]int{"none": 0, "uint8": 1, "uint16": 2, "uint32": 4}
	sizes    = map[string]int{"int8": 1, "uint8": 1, "int16": 2, "uint16": 2, "int24": 3, "int32": 4, "float32": 4}
)

// Push takes the next bytes, which were in hand at got.
func (r *Reader) Push(got time.Time, b []byte, to Taker) {
	if r.sync != nil {
		r.pushBinary(got, b, to)
		return
	}
	r.pushText(got, b, to)
}

// take hands over r.values, after the counter has been looked at.
func (r *Reader) take(got time.Time, count uint64, to Taker) {
	lost := r.lost
	if r.counter > 0 {
		lost = 0
		if r.counted {
			frames := (count + r.wrap - r.last - 1) % r.wrap
			if frames == r.wrap-1 {
				to.Reject(fmt.Sprintf("a frame whose counter stands still at %d: sent twice, or counter is set wrongly", count))
				return
			}
			lost = int64(frames) * int64(r.cfg.PerFrame)
		}
	}
	if !r.running {
		lost = 0
	}
	r.running, r.counted, r.last, r.lost = true, true, count, 0
	to.Frame(got, lost, r.values)
}

// scale turns a number into a fraction of full scale or into amperes. amperes says that an RMS value is in
// amperes already.
func (r *Reader) scale(v float64, amperes bool) (float64, error) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("holds %g, expected a number", v)
	}
	if r.rms && amperes {
		v /= r.fullA
	} else if r.cfg.Number != "float32" || r.cfg.Frames == "text" {
		v = (v - float64(r.cfg.ZeroCounts)) / float64(r.cfg.CountsFull)
	}
	if !r.rms {
		return max(-1, min(1, v)), nil
	}
	// A little less than nothing is the board's offset.
	if v < -offsetShare || v > mostShare {
		return 0, fmt.Errorf("holds an RMS value of %.4g A, expected 0 to %g A", v*r.fullA, mostShare*r.fullA)
	}
	return max(0, v*r.fullA), nil
}

// Bounds of an RMS value, in full scales; the project's own choice. Values in amperes may come from a board
// whose range is wider than clamp.full_scale_a.
const (
	offsetShare = 0.02
	mostShare   = 10
)
