package frame

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"quern/config"
)

// every is one description of each sort.
func every() []config.Frame {
	out := []config.Frame{
		with(func(c *config.Frame) { c.Shape, c.NumberPart, c.UnitPart, c.MarkPart = "fields", 3, 4, 1 }),
		with(func(c *config.Frame) { c.Shape, c.Separator, c.NumberPart, c.SignPart = "fields", ";", 2, 1 }),
		with(func(c *config.Frame) {
			c.Shape, c.NumberPart, c.NumberEnd, c.UnitPart, c.UnitEnd = "columns", 4, 11, 12, 13
		}),
		with(func(c *config.Frame) { c.Shape, c.Unit, c.Decimals = "number", "lb-oz", 2 }),
		with(func(c *config.Frame) { c.End, c.Checksum = "etx", "xor" }),
		with(func(c *config.Frame) { c.End, c.ChecksumSep, c.Checksum = "cr", "", "sum" }),
		with(func(c *config.Frame) { c.End = "lf" }),
	}
	for s := range shapes {
		out = append(out, shaped(s))
	}
	return out
}

var seeds = []string{
	"", "ST,GS,+0012.345kg\r\n", "ST,GS,+0012.345kg\r\nUS,NT,-  12,345 kg\r\n", "12.5 g\n- 12.5 g?\n", "\n2 lb 3.5 oz\n2 3.5\n",
	"\x0212.5 g*4A\x03", "\r1,234.5\r0,123\r12,345\r", "\n" + strings.Repeat("1", 300) + "\n1 g\n", "\nOL\n-----\n+\n", "\xff\xfe\x00\n\x00\n",
	"\nS S  12.5 g\n;-;12\n", "\n\x021 g\r\n",
}

// FuzzReader: nothing crashes, buffers stay small (feed looks), and the way a stream is cut changes nothing.
func FuzzReader(f *testing.F) {
	for _, s := range seeds {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, c := range every() {
			whole := feed(t, c, string(b), math.MaxInt)
			for _, n := range []int{1, 7} {
				if drip := feed(t, c, string(b), n); !slices.Equal(whole, drip) {
					t.Fatalf("%+v %q: whole %v, in pieces of %d %v", c, b, whole, n, drip)
				}
			}
			for _, x := range whole {
				if v := x.Reading.Value; math.IsNaN(v) || math.IsInf(v, 0) || !(math.Abs(v) <= 17*math.Pow10(mostDigits)) {
					t.Fatalf("%q gives %v", b, v)
				}
			}
		}
		Propose(b)
	})
}

// FuzzDamage: among whatever garbage, and wherever a frame is damaged, a check value lets through only what
// was sent.
func FuzzDamage(f *testing.F) {
	f.Add([]byte("garbage"), []byte("\xff"), uint16(3), byte(1))
	f.Add([]byte("\n"), []byte("*"), uint16(7), byte(0))
	f.Add([]byte("ST 12"), []byte("\r\n"), uint16(0), byte(0x80))
	c := with(func(c *config.Frame) { c.Shape, c.Checksum = "mark-number-unit", "crc32" })
	f.Fuzz(func(t *testing.T, before, within []byte, at uint16, flip byte) {
		if len(before) > 1000 || len(within) > 1000 || bytes.IndexByte(before, '*') >= 0 || bytes.IndexByte(within, '*') >= 0 && len(within) > 8 {
			return // a garbage that carries its own check value was sent, not damaged
		}
		line := []byte(sealed("crc32", "ST 1234.5 g"))
		i := int(at) % len(line)
		damaged := slices.Concat(line[:i], within, line[i:])
		damaged[int(at)%len(damaged)] ^= flip
		whole := sealed("crc32", "US 7.5 g")
		stream := slices.Concat(before, []byte("\n"), damaged, []byte("\n"+whole+"\n"))
		got := feed(t, c, string(stream), math.MaxInt)
		for _, x := range got {
			if s := show(x); s != "reject" && s != "1234.5 g stable" && s != "7.5 g moving" {
				t.Fatalf("%q gives %s", stream, s)
			}
		}
		if len(got) == 0 || show(got[len(got)-1]) != "7.5 g moving" {
			t.Fatalf("%q: the whole frame at the end is lost: %v", stream, got)
		}
	})
}
