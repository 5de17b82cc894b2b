package iio

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Format is the form of one channel's samples in the buffer, as its scan_elements/in_..._type tells:
// [be|le]:[s|u]bits/storagebits[Xrepeat]>>shift (Linux: Documentation/ABI/testing/sysfs-bus-iio).
type Format struct {
	BigEndian bool
	Signed    bool
	Bits      int // that count, 1 to Storage
	Storage   int // bits that one value takes: 8, 16, 32 or 64
	Repeat    int // values of one sample, of which the first is taken
	Shift     int // to the right, before Bits are looked at
}

// mostRepeat is more values than any sample has.
const mostRepeat = 64

// ParseFormat reads a type such as "le:s12/16>>4".
func ParseFormat(s string) (Format, error) {
	s = strings.TrimSpace(s)
	wrong := func(what string) (Format, error) {
		return Format{}, fmt.Errorf("sample type %q: %s, expected one such as le:s12/16>>4", s[:min(len(s), 40)], what)
	}
	f := Format{Repeat: 1}
	order, rest, ok := strings.Cut(s, ":")
	if !ok || order != "le" && order != "be" {
		return wrong("no byte order le or be")
	}
	f.BigEndian = order == "be"
	if rest == "" || rest[0] != 's' && rest[0] != 'u' {
		return wrong("neither s nor u: other numbers are not read here")
	}
	f.Signed = rest[0] == 's'
	bits, rest, ok := strings.Cut(rest[1:], "/")
	if !ok {
		return wrong("no storage bits")
	}
	rest, shift, shifted := strings.Cut(rest, ">>")
	storage, repeat, repeated := strings.Cut(rest, "X")
	for _, x := range []struct {
		text string
		to   *int
		here bool
	}{{bits, &f.Bits, true}, {storage, &f.Storage, true}, {repeat, &f.Repeat, repeated}, {shift, &f.Shift, shifted}} {
		if !x.here {
			continue
		}
		n, err := strconv.ParseUint(x.text, 10, 8)
		if err != nil {
			return wrong(fmt.Sprintf("%q is no number of bits", x.text))
		}
		*x.to = int(n)
	}
	switch {
	case !slices.Contains([]int{8, 16, 32, 64}, f.Storage):
		return wrong(fmt.Sprintf("%d storage bits: 8, 16, 32 or 64 are read here", f.Storage))
	case f.Bits < 1 || f.Bits+f.Shift > f.Storage:
		return wrong(fmt.Sprintf("%d bits shifted by %d do not stand in %d", f.Bits, f.Shift, f.Storage))
	case f.Repeat < 1 || f.Repeat > mostRepeat:
		return wrong(fmt.Sprintf("%d values a sample", f.Repeat))
	}
	return f, nil
}

// String writes what ParseFormat reads.
func (f Format) String() string {
	s := "le:"
	if f.BigEndian {
		s = "be:"
	}
	if f.Signed {
		s += "s"
	} else {
		s += "u"
	}
	s += fmt.Sprintf("%d/%d", f.Bits, f.Storage)
	if f.Repeat > 1 {
		s += fmt.Sprintf("X%d", f.Repeat)
	}
	return s + fmt.Sprintf(">>%d", f.Shift)
}

// Range returns the least and the largest count.
func (f Format) Range() (least, most float64) {
	whole := float64(uint64(1) << (f.Bits - 1)) // half of the values
	if f.Signed {
		return -whole, whole - 1
	}
	return 0, 2*whole - 1
}

// size is the number of bytes of one sample.
func (f Format) size() int { return f.Storage / 8 * f.Repeat }

// Counts returns the value that stands in b, which holds one sample or more.
func (f Format) Counts(b []byte) float64 {
	var v uint64
	n := f.Storage / 8
	for i := range n {
		x := uint64(b[i])
		if f.BigEndian {
			v |= x << (8 * (n - 1 - i))
		} else {
			v |= x << (8 * i)
		}
	}
	v = v >> f.Shift << (64 - f.Bits)
	if f.Signed {
		return float64(int64(v) >> (64 - f.Bits))
	}
	return float64(v >> (64 - f.Bits))
}

// element is one enabled channel of a scan.
type element struct {
	channel string
	index   int
	format  Format
}

// Scan is where the samples of one channel stand in what the kernel delivers: one scan holds one sample of
// every enabled channel, in order of their index, each at a multiple of its size; a scan's length is a
// multiple of its largest sample (Linux: iio_compute_scan_bytes).
type Scan struct {
	format    Format
	at, bytes int
	rest      []byte // of a scan that is not whole yet
}

// newScan returns the scan of channel among the enabled elements.
func newScan(channel string, enabled []element) (*Scan, error) {
	slices.SortFunc(enabled, func(a, b element) int { return cmp.Compare(a.index, b.index) })
	align := func(n, to int) int { return (n + to - 1) / to * to }
	s := &Scan{at: -1}
	largest := 1
	for _, e := range enabled {
		n := e.format.size()
		s.bytes = align(s.bytes, n)
		if e.channel == channel {
			s.at, s.format = s.bytes, e.format
		}
		s.bytes += n
		largest = max(largest, n)
	}
	s.bytes = align(s.bytes, largest)
	if s.at < 0 {
		return nil, fmt.Errorf("channel %s is not enabled", channel)
	}
	return s, nil
}

// Unpack appends the counts of all whole scans in b, and in what was left over before, to out. How the
// bytes are cut never matters.
func (s *Scan) Unpack(out []float64, b []byte) []float64 {
	if len(s.rest) > 0 {
		n := min(len(b), s.bytes-len(s.rest))
		s.rest = append(s.rest, b[:n]...)
		b = b[n:]
		if len(s.rest) < s.bytes {
			return out
		}
		out = append(out, s.format.Counts(s.rest[s.at:]))
		s.rest = s.rest[:0]
	}
	for ; len(b) >= s.bytes; b = b[s.bytes:] {
		out = append(out, s.format.Counts(b[s.at:]))
	}
	s.rest = append(s.rest, b...)
	return out
}
