package board

import (
	"fmt"
	"math"
	"strings"
	"time"

	"quern/acquire/frame"
	"quern/config"
	"quern/rig"
)

// Proposal is what was understood of the lines that a board sends.
type Proposal struct {
	Device  config.ClampDevice // form, rate_hz, board; the port is the caller's
	Lines   int
	HeardHz float64 // samples a second; 0: not told
	sure    bool    // of the counter's length
}

// Bounds of a proposal; the project's own choice.
const (
	fewLines   = 3     // fewer are no proof
	waveformHz = 400.0 // slower numbers are RMS values
	nearRate   = 0.03  // a rate that is so near to a usual one is that
)

// Propose reads lines of numbers that came within a time, in every way that a board may send them. It knows nothing of
// binary frames: false. Which number stands for full scale no bytes can tell.
func Propose(heard []byte, within time.Duration) (Proposal, bool) {
	var best Proposal
	for _, separator := range []string{"", ";"} {
		for _, checksum := range []string{"crc32", "crc16-modbus", "crc16-ccitt", "crc8", "xor", "sum", "none"} {
			for _, counter := range []string{"uint8", "uint16", "uint32", "none"} {
				b := config.Board{Frames: "text", Number: "int16", Counter: counter, Checksum: checksum, Separator: separator, CountsFull: math.MaxInt32, PerFrame: 1}
				if b.PerFrame = perLine(heard, b); b.PerFrame < 1 {
					continue
				}
				if t, ok := try(b, heard); ok && t.lines > best.Lines {
					best = t.proposal(b, within)
				}
			}
		}
	}
	return best, best.Lines > 0
}

// perLine counts the numbers of the second line, which is whole, without counter and check value; 0: there are none.
func perLine(heard []byte, b config.Board) int {
	lines := strings.FieldsFunc(string(heard[:min(len(heard), 1<<17)]), func(c rune) bool { return c == '\r' || c == '\n' })
	if len(lines) < 2 {
		return 0
	}
	line, check, found := strings.Cut(lines[1], "*")
	if _, digits := frame.Sum(b.Checksum, nil); found != (digits > 0) || len(strings.TrimSpace(check)) != digits {
		return 0
	}
	parts := strings.FieldsFunc(line, func(c rune) bool { return c == ' ' || c == ',' || c == '\t' })
	if b.Separator != "" {
		parts = strings.Split(line, b.Separator)
	}
	if n := len(parts); b.Counter == "none" {
		return n
	}
	return len(parts) - 1
}

// trial takes lines as one description has them.
type trial struct {
	lines, rejected, lost int
	values                int
	sum                   float64
}

func (t *trial) Frame(_ time.Time, lost int64, values []float64) {
	t.lines++
	if lost != 0 {
		t.lost++
	}
	t.values += len(values)
	for _, v := range values {
		t.sum += v * math.MaxInt32
	}
}

func (t *trial) Reject(string) { t.rejected++ }

// try tells whether nearly all lines fit, and the counter counts.
func try(b config.Board, heard []byte) (trial, bool) {
	r, err := NewReader(b, rig.Waveform, 0)
	if err != nil {
		return trial{}, false
	}
	var t trial
	r.Push(time.Time{}, heard, &t)
	return t, t.lines >= fewLines && t.rejected*20 <= t.lines && t.lost*20 <= t.lines
}

func (t trial) proposal(b config.Board, within time.Duration) Proposal {
	// A counter that nobody saw begin anew may be longer than what it showed.
	p := Proposal{Lines: t.lines, sure: b.Counter == "none" || b.Counter == "uint8" && t.lines > 256 || b.Counter == "uint16" && t.lines > 1<<16}
	b.ZeroCounts, b.CountsFull = zero(t.sum / float64(t.values))
	p.Device = config.ClampDevice{Kind: "board", Form: string(rig.Waveform), RateHz: 8000, Board: b}
	if within > 0 {
		p.HeardHz = float64(t.values) / within.Seconds()
		p.Device.RateHz = usual(p.HeardHz)
		if p.HeardHz < waveformHz {
			p.Device.Form = string(rig.RMS)
		}
	}
	return p
}

// zero guesses from the mean of all numbers which one stands for no current, and for full scale.
func zero(mean float64) (zero, full int) {
	for bits := 7; bits <= 23; bits++ { // half of the range of converters of 8 to 24 bits
		if half := float64(int(1) << bits); math.Abs(mean-half) < half/10 {
			return int(half), int(half)
		}
	}
	return 0, 32768
}

// usual returns the usual rate next to one that was heard, or the heard one in two digits.
func usual(hz float64) float64 {
	scale := math.Pow(10, math.Floor(math.Log10(hz)))
	for _, m := range []float64{1, 1.2, 1.6, 2, 2.4, 2.5, 3.2, 4, 4.8, 5, 6, 6.4, 8, 9.6, 10} {
		if math.Abs(hz-m*scale) < nearRate*hz {
			return m * scale
		}
	}
	return math.Round(10*hz/scale) / 10 * scale
}

// String says in one or two sentences what was understood.
func (p Proposal) String() string {
	b := p.Device.Board
	text := fmt.Sprintf("%s of %s", rig.Count(p.Lines, "line"), rig.Count(b.PerFrame, "number"))
	if b.Counter != "none" {
		text += " after a counter"
	}
	if b.Checksum != "none" {
		text += ", with the check value " + b.Checksum
	}
	if p.HeardHz > 0 {
		text += fmt.Sprintf(", some %.3g numbers a second", p.HeardHz)
	}
	if !p.sure {
		text += ". The counter was not seen to begin anew: it may have more bits than it showed"
	}
	return text + "."
}

// TOML returns lines for bench.toml, for a board on a port.
func (p Proposal) TOML(port config.Port) string {
	var t strings.Builder
	d, b := p.Device, p.Device.Board
	fmt.Fprintf(&t, "[clamp.device]\nkind = \"board\"\nform = %q\nrate_hz = %.1f    # take it from the board's program\n\n", d.Form, d.RateHz)
	fmt.Fprintf(&t, "[clamp.device.port]\ndevice = %q\nbaud = %d\ndata_bits = %d\nparity = %q\nstop_bits = %d\n\n", port.Device, port.Baud, port.DataBits, port.Parity, port.StopBits)
	fmt.Fprintf(&t, "[clamp.device.board]\nframes = \"text\"\nsamples_per_frame = %d\ncounter = %q\n", b.PerFrame, b.Counter)
	if b.Separator != "" {
		fmt.Fprintf(&t, "separator = %q\n", b.Separator)
	}
	if b.Checksum != "none" {
		fmt.Fprintf(&t, "checksum = %q\n", b.Checksum)
	}
	if d.Form == string(rig.Waveform) {
		fmt.Fprintf(&t, "full_scale_counts = %d    # the number that stands for clamp.full_scale_a: from the board's data sheet\nzero_counts = %d\n", b.CountsFull, b.ZeroCounts)
	}
	return t.String()
}
