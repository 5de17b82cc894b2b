package serialport

import (
	"context"
	"fmt"
	"math/bits"
	"slices"
	"strings"
	"time"

	"quern/acquire/frame"
	"quern/config"
)

// bauds are the usual rates, symbols a second, the commonest with scales and meters first (common
// practice).
var bauds = []int{9600, 4800, 2400, 19200, 1200, 115200, 38400, 57600, 600, 300}

// Figures of listening; the project's own choice.
const (
	sureScore   = 0.9     // a proposal as good as this ends the listening
	poorScore   = 0.5     // below this the rarer settings are tried too
	textScore   = 0.2     // of bytes that all belong in a text, but make no frames
	mostHeard   = 1 << 16 // bytes kept of one try
	enoughHeard = 4096    // bytes that are surely several frames: where none is among them, the setting is wrong
	dumpRows    = 12      // rows shown
	dumpBytes   = 24      // bytes in a row
)

// Heard is what listening found.
type Heard struct {
	Port        config.Port
	Frame       config.Frame
	Score       float64 // 0, nothing understood, to 1
	Explanation string
	Raw         []byte // as the port delivered it with the settings in Port
	Tries       []Try
}

// Try is one setting that was listened with.
type Try struct {
	Port      config.Port
	Bytes     int
	Printable float64 // share of the bytes that belong in a text
	Score     float64
}

// Listen tries the usual rates and parities on a port, perTry long each, and returns the best. It ends
// early when it is sure. On an error Heard holds what was found until then.
func Listen(ctx context.Context, device string, perTry time.Duration) (Heard, error) {
	var h Heard
	base := config.Port{Device: device, DataBits: 8, Parity: "none", StopBits: 1, Flow: "none"}
	spoke := false
	for _, parity := range []string{"none", "even", "odd"} {
		// 7 bits and parity are as long as 8 bits without, and are told apart in what was heard. 8 bits and
		// parity are rare.
		if parity != "none" && (!spoke || h.Score >= poorScore) {
			break
		}
		for _, baud := range bauds {
			p := base
			p.Baud, p.Parity = baud, parity
			raw, err := hear(ctx, p, perTry)
			if err != nil {
				return h, err
			}
			spoke = spoke || len(raw) > 0
			one := judge(p, raw)
			h.Tries = append(h.Tries, Try{one.Port, len(raw), printable(text(one.Port, raw)), one.Score})
			if one.Score > h.Score || len(h.Raw) == 0 {
				one.Tries = h.Tries
				h = one
			}
			if h.Score >= sureScore {
				return h, nil
			}
		}
	}
	return h, nil
}

// hear collects what a port delivers, until it is enough to be sure.
func hear(ctx context.Context, p config.Port, perTry time.Duration) ([]byte, error) {
	port, err := Open(p)
	if err != nil {
		return nil, err
	}
	defer port.Close()
	during, enough := context.WithTimeout(ctx, perTry)
	defer enough()
	var raw []byte
	next := 16
	err = port.Read(during, func(_ time.Time, b []byte) {
		raw = append(raw, b[:min(len(b), mostHeard-len(raw))]...)
		if len(raw) < next {
			return
		}
		next = len(raw) + len(raw)/4 + 1
		if len(raw) == mostHeard || judge(p, raw).Score >= sureScore || len(raw) >= enoughHeard && judge(p, raw).Score <= textScore {
			enough()
		}
	})
	if err == nil {
		err = ctx.Err()
	}
	return raw, err
}

// Hear returns what a port delivers in a time, at most most bytes, and the time in which that came. What comes first is
// left out: it waited for nobody knows how long.
func Hear(ctx context.Context, p config.Port, during time.Duration, most int) (raw []byte, within time.Duration, err error) {
	port, err := Open(p)
	if err != nil {
		return nil, 0, err
	}
	defer port.Close()
	listening, enough := context.WithTimeout(ctx, during)
	defer enough()
	var first time.Time
	err = port.Read(listening, func(got time.Time, b []byte) {
		if first.IsZero() {
			first = got
			return
		}
		raw, within = append(raw, b...), got.Sub(first)
		if len(raw) >= most {
			enough()
		}
	})
	if err == nil {
		err = ctx.Err()
	}
	return raw, within, err
}

// judge reads what was heard in every way that its setting allows.
func judge(p config.Port, raw []byte) Heard {
	var best Heard
	for _, parity := range []string{"none", "even", "odd"} {
		q := p
		if parity != "none" {
			if p.Parity != "none" || !sevenBits(raw, parity) {
				continue
			}
			q.DataBits, q.Parity = 7, parity
		}
		t := text(q, raw)
		h := Heard{Port: q, Raw: raw}
		h.Frame, h.Score, h.Explanation = frame.Propose(t)
		// Frames that could be read prove more than characters that merely belong in a text.
		if share := printable(t); h.Score > 0 {
			h.Score = 0.7*h.Score + 0.3*share
		} else {
			h.Score = textScore * share
		}
		if best.Explanation == "" || h.Score > best.Score {
			best = h
		}
	}
	return best
}

// sevenBits tells whether the eighth bit of every byte is the check bit of the other seven, and is set in
// some.
func sevenBits(raw []byte, parity string) bool {
	want, set := 0, false
	if parity == "odd" {
		want = 1
	}
	for _, c := range raw {
		if bits.OnesCount8(c)%2 != want {
			return false
		}
		set = set || c >= 0x80
	}
	return set
}

// text returns the characters in raw, heard with 8 bits, if the device speaks as p says.
func text(p config.Port, raw []byte) []byte {
	if p.DataBits == 8 {
		return raw
	}
	out := slices.Clone(raw)
	for i := range out {
		out[i] &= 0x7f
	}
	return out
}

// printable returns the share of characters that belong in a text.
func printable(b []byte) float64 {
	if len(b) == 0 {
		return 0
	}
	n := 0
	for _, c := range b {
		if c >= ' ' && c < 0x7f || strings.IndexByte("\r\n\t\x02\x03", c) >= 0 {
			n++
		}
	}
	return float64(n) / float64(len(b))
}

// Dump shows the beginning of what was heard, a frame a row: bytes in hexadecimal digits, and characters.
func (h Heard) Dump() []string {
	var rows []string
	t := text(h.Port, h.Raw)
	for from := 0; from < len(t) && len(rows) < dumpRows; {
		to := from
		for to < len(t) && to-from < dumpBytes {
			to++
			// CR and LF belong together, whichever comes first.
			if strings.IndexByte("\r\n\x03", t[to-1]) >= 0 && (to == len(t) || strings.IndexByte("\r\n", t[to]) < 0) {
				break
			}
		}
		var hex, chars strings.Builder
		for i := from; i < to; i++ {
			fmt.Fprintf(&hex, "%02x ", h.Raw[i])
			if c := t[i]; c >= ' ' && c < 0x7f {
				chars.WriteByte(c)
			} else {
				chars.WriteByte('.')
			}
		}
		rows = append(rows, fmt.Sprintf("%-*s |%s|", 3*dumpBytes, hex.String(), chars.String()))
		from = to
	}
	return rows
}

// TOML returns lines for bench.toml. table is scale.device, microphone.device or extra.
func (h Heard) TOML(table string) string {
	var b strings.Builder
	switch table {
	case "scale.device":
		fmt.Fprintf(&b, "[%s]\nkind = \"serial\"\n\n", table)
	case "microphone.device":
		fmt.Fprintf(&b, "[%s]\nkind = \"meter\"\n\n", table)
	case "extra":
		fmt.Fprint(&b, "[[extra]]\nid = \"water-temperature\"    # what it is; and the unit of its numbers\nunit_word = \"degC\"\nkind = \"line\"\n\n")
	}
	p, f, usual := h.Port, h.Frame, frame.Usual()
	fmt.Fprintf(&b, "[%s.port]\ndevice = %q\nbaud = %d\ndata_bits = %d\nparity = %q\nstop_bits = %d\n\n", table, p.Device, p.Baud, p.DataBits, p.Parity, p.StopBits)
	fmt.Fprintf(&b, "[%s.frame]\nshape = %q\nend = %q\n", table, f.Shape, f.End)
	if f.NumberPart > 0 {
		fmt.Fprintf(&b, "number_part = %d\n", f.NumberPart)
	}
	if f.Separator != usual.Separator {
		fmt.Fprintf(&b, "separator = %q\n", f.Separator)
	}
	if f.Checksum != usual.Checksum {
		fmt.Fprintf(&b, "checksum = %q\n", f.Checksum)
	}
	if table == "scale.device" {
		fmt.Fprintf(&b, "unit_word = %q\n", f.Unit)
	}
	return b.String()
}
