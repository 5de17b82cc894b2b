package board

import (
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

// found gathers what a Reader finds, as text: "lost 3: 0.5 -0.25", "reject: ...".
type found struct {
	frames  []string
	values  [][]float64
	rejects []string
}

func (f *found) Frame(_ time.Time, lost int64, values []float64) {
	s := ""
	if lost != 0 {
		s = fmt.Sprintf("lost %d: ", lost)
	}
	f.frames = append(f.frames, s+strings.Trim(fmt.Sprint(values), "[]"))
	f.values = append(f.values, slices.Clone(values))
}
func (f *found) Reject(why string) { f.rejects = append(f.rejects, why) }

var at = time.Unix(1000, 0)

// feed pushes b in pieces of at most step bytes.
func feed(tb testing.TB, cfg config.Board, form rig.Form, b []byte, step int) *found {
	tb.Helper()
	r, err := NewReader(cfg, form, 50)
	if err != nil {
		tb.Fatal(err)
	}
	f := &found{}
	for len(b) > 0 {
		n := min(step, len(b))
		r.Push(at, b[:n], f)
		b = b[n:]
		if len(r.buf) > 64+numberBytes*4096 {
			tb.Fatalf("%d bytes are kept", len(r.buf))
		}
	}
	return f
}

func text(change func(*config.Board)) config.Board {
	b := config.Board{Frames: "text", Number: "int16", PerFrame: 1, Counter: "none", Checksum: "none", CountsFull: 1000}
	if change != nil {
		change(&b)
	}
	return b
}

func TestText(t *testing.T) {
	count := func(c string, n int) func(*config.Board) {
		return func(b *config.Board) { b.Counter, b.PerFrame = c, n }
	}
	for name, c := range map[string]struct {
		cfg     config.Board
		form    rig.Form
		send    string
		want    []string
		rejects int
	}{
		"numbers":             {text(nil), rig.Waveform, "77\n500\r\n-250\r+1000\n\n0.5\n1e2\n", []string{"0.5", "-0.25", "1", "0.0005", "0.1"}, 0},
		"clipped":             {text(nil), rig.Waveform, "\n1001\n-99999\n", []string{"1", "-1"}, 0},
		"zero":                {text(func(b *config.Board) { b.ZeroCounts, b.CountsFull = 2048, 2048 }), rig.Waveform, "\n2048\n0\n4095\n", []string{"0", "-1", "0.99951171875"}, 0},
		"three a line":        {text(count("none", 3)), rig.Waveform, "\n1, 2,3\n1 2\t3\n1 2\n1 2 3 4\n1 2 3\n", []string{"0.001 0.002 0.003", "0.001 0.002 0.003", "lost 6: 0.001 0.002 0.003"}, 2},
		"own separator":       {text(func(b *config.Board) { b.PerFrame, b.Separator = 2, ";" }), rig.Waveform, "\n1; 2\n1,2\n;1\n3;4\n", []string{"0.001 0.002", "lost 4: 0.003 0.004"}, 2},
		"no numbers":          {text(nil), rig.Waveform, "\nNaN\ninf\n0x10\n1_0\n--1\n1\n", []string{"0.001"}, 5},
		"counter":             {text(count("uint8", 2)), rig.Waveform, "\n254 1 1\n255 2 2\n0 3 3\n4 4 4\n", []string{"0.001 0.001", "0.002 0.002", "0.003 0.003", "lost 6: 0.004 0.004"}, 0},
		"counter wraps":       {text(count("uint8", 1)), rig.Waveform, "\n250 1\n5 2\n", []string{"0.001", "lost 10: 0.002"}, 0},
		"counter too large":   {text(count("uint8", 1)), rig.Waveform, "\n256 1\n-1 1\n1.5 1\n3 1\n", []string{"0.001"}, 3},
		"counter 16":          {text(count("uint16", 1)), rig.Waveform, "\n65535 1\n1 2\n", []string{"0.001", "lost 1: 0.002"}, 0},
		"counter 32":          {text(count("uint32", 1)), rig.Waveform, "\n4294967295 1\n1 2\n", []string{"0.001", "lost 1: 0.002"}, 0},
		"sent twice":          {text(count("uint8", 1)), rig.Waveform, "\n7 1\n7 1\n8 2\n", []string{"0.001", "0.002"}, 1},
		"xor by hand":         {text(func(b *config.Board) { b.Checksum, b.PerFrame = "xor", 2 }), rig.Waveform, "\n12,34*28\n12,35*28\n12,34\n12,34*\n12,34*028\n12,34*+8\n12,34*28\n", []string{"0.012 0.034", "lost 10: 0.012 0.034"}, 5},
		"crc16, catalogue":    {text(func(b *config.Board) { b.Checksum = "crc16-ccitt" }), rig.Waveform, "\n123456789*29b1\n123456789*29B1\n123456788*29B1\n", []string{"1", "1"}, 1},
		"rms in amperes":      {text(nil), rig.RMS, "\n5.25\n-0.3\n-2\n501\n6\n", []string{"5.25", "0", "lost 2: 6"}, 2},
		"garbage within":      {text(nil), rig.Waveform, "\n1\n\x80\xff2\n3\n", []string{"0.001", "lost 1: 0.003"}, 1},
		"a line without end":  {text(nil), rig.Waveform, "\n1\n" + strings.Repeat("5", 1000) + "\n2\n", []string{"0.001", "lost -1: 0.002"}, 10},
		"half a line at last": {text(nil), rig.Waveform, "\n1\n2", []string{"0.001"}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			for _, step := range []int{1, 3, math.MaxInt} {
				f := feed(t, c.cfg, c.form, []byte(c.send), step)
				if !slices.Equal(f.frames, c.want) || len(f.rejects) != c.rejects {
					t.Errorf("%d bytes at once: %q, rejects %q; want %q and %d rejects", step, f.frames, f.rejects, c.want, c.rejects)
				}
			}
		})
	}
}

func bin(change func(*config.Board)) config.Board {
	b := config.Board{Frames: "binary", Number: "int16", Sync: "aa55", PerFrame: 2, Counter: "none", Checksum: "none", CountsFull: 32768}
	if change != nil {
		change(&b)
	}
	return b
}

func unhex(t *testing.T, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Frames written out by hand. The CRC of 01 03 00 00 00 0a is c5 cd on the line in the usual example of
// Modbus over serial line (from memory); those of "123456789" are from the public catalogues of CRCs.
func TestBinary(t *testing.T) {
	one := func(number string, big bool) config.Board {
		return bin(func(b *config.Board) { b.Number, b.BigEndian, b.PerFrame = number, big, 1 })
	}
	sum := func(name string, n int, big bool) config.Board {
		return bin(func(b *config.Board) {
			b.Checksum, b.Number, b.PerFrame, b.CountsFull, b.BigEndian = name, "uint8", n, 256, big
		})
	}
	counted := func(c string) config.Board {
		return bin(func(b *config.Board) { b.Counter, b.Number, b.PerFrame, b.CountsFull = c, "int8", 1, 128 })
	}
	float := math.Float32bits(0.25)
	nine := "31 32 33 34 35 36 37 38 39"
	nineWant := "0.19140625 0.1953125 0.19921875 0.203125 0.20703125 0.2109375 0.21484375 0.21875 0.22265625"
	for name, c := range map[string]struct {
		cfg     config.Board
		form    rig.Form
		send    string
		want    []string
		rejects int
	}{
		"int16 little":     {one("int16", false), rig.Waveform, "aa55 0080 aa55 0040 aa55", []string{"-1", "0.5"}, 0},
		"int16 big":        {one("int16", true), rig.Waveform, "aa55 8000 aa55 4000 aa55", []string{"-1", "0.5"}, 0},
		"uint16":           {bin(func(b *config.Board) { b.Number, b.PerFrame, b.ZeroCounts = "uint16", 1, 32768 }), rig.Waveform, "aa55 0000 aa55 00c0 aa55", []string{"-1", "0.5"}, 0},
		"int8":             {bin(func(b *config.Board) { b.Number, b.PerFrame, b.CountsFull = "int8", 1, 128 }), rig.Waveform, "aa55 80 aa55 40 aa55", []string{"-1", "0.5"}, 0},
		"int24":            {bin(func(b *config.Board) { b.Number, b.PerFrame, b.CountsFull = "int24", 1, 1<<23 }), rig.Waveform, "aa55 000080 aa55 000040 aa55", []string{"-1", "0.5"}, 0},
		"int32 big":        {bin(func(b *config.Board) { b.Number, b.PerFrame, b.CountsFull, b.BigEndian = "int32", 1, 1<<30, true }), rig.Waveform, "aa55 c0000000 aa55 20000000 aa55", []string{"-1", "0.5"}, 0},
		"float32":          {one("float32", true), rig.Waveform, fmt.Sprintf("aa55 %08x aa55 7fc00000 aa55 bf800000 aa55", float), []string{"0.25", "lost 1: -1"}, 1},
		"rms float32":      {one("float32", true), rig.RMS, fmt.Sprintf("aa55 %08x aa55", math.Float32bits(7.5)), []string{"7.5"}, 0},
		"rms int16":        {one("int16", false), rig.RMS, "aa55 0040 aa55 ffff aa55", []string{"25", "0"}, 0},
		"in the middle":    {one("int16", false), rig.Waveform, "1122 aa55 0040 aa55", []string{"0.5"}, 0},
		"last not sure":    {one("int16", false), rig.Waveform, "aa55 0040", nil, 0},
		"false sync":       {one("int16", false), rig.Waveform, "aa55 0040 aa55 aa55 0080 aa55", []string{"0.5", "lost -1: -1"}, 1},
		"a byte is gone":   {one("int16", false), rig.Waveform, "aa55 0040 aa55 00 aa55 0020 aa55 0040 aa55", []string{"0.5", "lost -1: 0.25", "0.5"}, 1},
		"sync by halves":   {one("int16", false), rig.Waveform, "aaaa55 0040 aa55", []string{"0.5"}, 0},
		"modbus's example": {sum("crc16-modbus", 6, false), rig.Waveform, "aa55 01030000000a c5cd", []string{"0.00390625 0.01171875 0 0 0 0.0390625"}, 0},
		"crc8":             {sum("crc8", 9, false), rig.Waveform, "aa55" + nine + "f4", []string{nineWant}, 0},
		"crc16-ccitt":      {sum("crc16-ccitt", 9, true), rig.Waveform, "aa55" + nine + "29b1", []string{nineWant}, 0},
		"crc32":            {sum("crc32", 9, true), rig.Waveform, "aa55" + nine + "cbf43926", []string{nineWant}, 0},
		"sum":              {sum("sum", 2, false), rig.Waveform, "aa55 80ff 7f aa55 80fe 7f aa55 80ff 7f", []string{"0.5 0.99609375", "lost 2: 0.5 0.99609375"}, 1},
		"counter 8":        {counted("uint8"), rig.Waveform, "aa55 fe 40 aa55 ff 40 aa55 02 c0 aa55", []string{"0.5", "0.5", "lost 2: -0.5"}, 0},
		"counter 16":       {counted("uint16"), rig.Waveform, "aa55 ffff 40 aa55 0100 c0 aa55", []string{"0.5", "lost 1: -0.5"}, 0},
		"counter 32":       {counted("uint32"), rig.Waveform, "aa55 ffffffff 40 aa55 01000000 c0 aa55", []string{"0.5", "lost 1: -0.5"}, 0},
		"stands still":     {counted("uint8"), rig.Waveform, "aa55 07 40 aa55 07 40 aa55", []string{"0.5"}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			for _, step := range []int{1, 3, math.MaxInt} {
				f := feed(t, c.cfg, c.form, unhex(t, c.send), step)
				if !slices.Equal(f.frames, c.want) || len(f.rejects) != c.rejects {
					t.Errorf("%d bytes at once: %q, rejects %q; want %q and %d rejects", step, f.frames, f.rejects, c.want, c.rejects)
				}
			}
		})
	}
}

func TestReaderRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		cfg   config.Board
		form  rig.Form
		fullA float64
		want  string
	}{
		"form":           {text(nil), "level", 50, "waveform or rms"},
		"frames":         {text(func(b *config.Board) { b.Frames = "" }), rig.Waveform, 50, "text or binary"},
		"counter":        {text(func(b *config.Board) { b.Counter = "int8" }), rig.Waveform, 50, "uint32"},
		"checksum":       {text(func(b *config.Board) { b.Checksum = "md5" }), rig.Waveform, 50, "crc16-modbus"},
		"per frame":      {text(func(b *config.Board) { b.PerFrame = 0 }), rig.Waveform, 50, "1 to 4096"},
		"full scale":     {text(func(b *config.Board) { b.CountsFull = 0 }), rig.Waveform, 50, "1 or more"},
		"separator":      {text(func(b *config.Board) { b.Separator = "." }), rig.Waveform, 50, "no part of a number"},
		"number":         {bin(func(b *config.Board) { b.Number = "uint32" }), rig.Waveform, 50, "int24"},
		"no sync":        {bin(func(b *config.Board) { b.Sync = "" }), rig.Waveform, 50, "hexadecimal"},
		"sync not hex":   {bin(func(b *config.Board) { b.Sync = "a" }), rig.Waveform, 50, "hexadecimal"},
		"rms, no ampere": {text(nil), rig.RMS, 0, "full_scale_a"},
	} {
		if _, err := NewReader(c.cfg, c.form, c.fullA); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
}
