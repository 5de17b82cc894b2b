package iio

import (
	"slices"
	"strings"
	"testing"
)

func TestParseFormat(t *testing.T) {
	// Types in the form of Linux: Documentation/ABI/testing/sysfs-bus-iio; the first is its own example.
	for _, tc := range []struct {
		text string
		want Format
	}{
		{"le:s12/16>>4", Format{Signed: true, Bits: 12, Storage: 16, Repeat: 1, Shift: 4}},
		{"be:u12/16>>0\n", Format{BigEndian: true, Bits: 12, Storage: 16, Repeat: 1}},
		{"be:u24/32>>8", Format{BigEndian: true, Bits: 24, Storage: 32, Repeat: 1, Shift: 8}},
		{"le:s16/16X3>>0", Format{Signed: true, Bits: 16, Storage: 16, Repeat: 3}},
		{"le:s64/64>>0", Format{Signed: true, Bits: 64, Storage: 64, Repeat: 1}},
		{"le:u8/8", Format{Bits: 8, Storage: 8, Repeat: 1}},
	} {
		if got, err := ParseFormat(tc.text); err != nil || got != tc.want {
			t.Errorf("%q: %+v, %v, expected %+v", tc.text, got, err, tc.want)
		}
	}
	for text, why := range map[string]string{
		"":                  "byte order",
		"s12/16>>4":         "byte order",
		"me:s12/16>>4":      "byte order",
		"le:":               "neither s nor u",
		"le:f32/32>>0":      "neither s nor u",
		"le:s12":            "no storage bits",
		"le:s/16>>0":        `"" is no number`,
		"le:s12/16>>":       `"" is no number`,
		"le:s-1/16>>0":      "no number",
		"le:s999/16>>0":     "no number",
		"le:s12/12>>0":      "12 storage bits",
		"le:s0/16>>0":       "0 bits",
		"le:s12/16>>5":      "12 bits shifted by 5",
		"le:s12/16X0>>0":    "0 values",
		"le:s12/16X200>>0":  "200 values",
		"le:s12/16X2X2>>0":  "no number",
		"le:s12/16>>4>>4":   "no number",
		"le:s12/16>>4 junk": "no number",
	} {
		if got, err := ParseFormat(text); err == nil || !strings.Contains(err.Error(), why) || got != (Format{}) {
			t.Errorf("%q: %+v, %v, expected %s", text, got, err, why)
		}
	}
}

func TestCounts(t *testing.T) {
	for _, tc := range []struct {
		format string
		bytes  []byte
		want   float64
	}{
		{"le:s12/16>>4", []byte{0xF0, 0x7F}, 2047},
		{"le:s12/16>>4", []byte{0x0F, 0x80}, -2048}, // the four low bits do not count
		{"le:u12/16>>4", []byte{0x0F, 0x80}, 2048},
		{"be:u12/16>>0", []byte{0xF8, 0x01}, 2049}, // nor do the four high ones
		{"be:s24/32>>8", []byte{0xFF, 0xFF, 0xFE, 0x55}, -2},
		{"le:u32/32>>0", []byte{0xFF, 0xFF, 0xFF, 0xFF}, 4294967295},
		{"le:s64/64>>0", []byte{0xFE, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, -2},
		{"le:s8/8>>0", []byte{0x80}, -128},
		{"le:u1/8>>7", []byte{0x80}, 1},
	} {
		f, err := ParseFormat(tc.format)
		if err != nil {
			t.Fatal(err)
		}
		if got := f.Counts(tc.bytes); got != tc.want {
			t.Errorf("%s of % x: %v, expected %v", tc.format, tc.bytes, got, tc.want)
		}
	}
}

func mustElement(t testing.TB, channel string, index int, format string) element {
	t.Helper()
	f, err := ParseFormat(format)
	if err != nil {
		t.Fatal(err)
	}
	return element{channel, index, f}
}

// The places follow from the rule in the comment on Scan.
func TestScanPlaces(t *testing.T) {
	a := mustElement(t, "voltage0", 0, "le:u12/16>>0")
	b := mustElement(t, "voltage1", 1, "le:s24/32>>0")
	c := mustElement(t, "voltage2", 2, "le:u8/8>>0")
	stamp := mustElement(t, "timestamp", 9, "le:s64/64>>0")
	for _, tc := range []struct {
		channel   string
		enabled   []element
		at, bytes int
	}{
		{"voltage0", []element{a}, 0, 2},
		{"voltage1", []element{a, b}, 4, 8},
		{"voltage0", []element{b, a}, 0, 8},
		{"voltage2", []element{stamp, c, a}, 2, 16},
		{"voltage2", []element{c, b, a}, 8, 12},
		{"voltage0", []element{a, stamp}, 0, 16},
	} {
		s, err := newScan(tc.channel, slices.Clone(tc.enabled))
		if err != nil || s.at != tc.at || s.bytes != tc.bytes {
			t.Errorf("%s among %v: %+v, %v, expected %d of %d", tc.channel, tc.enabled, s, err, tc.at, tc.bytes)
		}
	}
	if s, err := newScan("voltage7", []element{a}); err == nil {
		t.Errorf("%+v of a channel that is not enabled", s)
	}
}

// FuzzFormat: what is read is written back to the same, and its range holds every count.
func FuzzFormat(f *testing.F) {
	for _, s := range []string{"le:s12/16>>4", "be:u24/32>>8", "le:s16/16X3>>0", "le:s64/64>>0", "le:u8/8", "be:", "le:s12/16X>>"} {
		f.Add(s, []byte{0x80, 1, 2, 3, 4, 5, 6, 7})
	}
	f.Fuzz(func(t *testing.T, text string, b []byte) {
		x, err := ParseFormat(text)
		if err != nil {
			if x != (Format{}) {
				t.Fatalf("%+v and %v", x, err)
			}
			return
		}
		if y, err := ParseFormat(x.String()); err != nil || y != x {
			t.Fatalf("%q is %+v, written %q, read %+v, %v", text, x, x.String(), y, err)
		}
		if len(b) < x.size() {
			return
		}
		if least, most := x.Range(); x.Counts(b) < least || x.Counts(b) > most {
			t.Fatalf("%v of % x is outside %v to %v", x.Counts(b), b, least, most)
		}
	})
}

// FuzzUnpack: however the bytes are cut, the counts are the same, and no more than a scan is kept.
func FuzzUnpack(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuv"), byte(0), byte(3))
	f.Add([]byte{0xF0, 0x7F, 0x0F, 0x80, 1}, byte(1), byte(1))
	f.Fuzz(func(t *testing.T, b []byte, shape, cut byte) {
		all := []element{
			mustElement(t, "voltage0", 0, "le:s12/16>>4"),
			mustElement(t, "voltage1", 1, "be:u24/32>>8"),
			mustElement(t, "voltage2", 2, "le:s16/16X3>>0"),
			mustElement(t, "timestamp", 3, "le:s64/64>>0"),
		}
		var enabled []element
		for i, e := range all {
			if shape>>i&1 == 1 {
				enabled = append(enabled, e)
			}
		}
		if len(enabled) == 0 {
			return
		}
		fresh := func() *Scan {
			s, err := newScan(enabled[0].channel, slices.Clone(enabled))
			if err != nil {
				t.Fatal(err)
			}
			return s
		}
		s := fresh()
		whole := s.Unpack(nil, b)
		if len(whole) != len(b)/s.bytes {
			t.Fatalf("%d counts of %d bytes in scans of %d", len(whole), len(b), s.bytes)
		}
		s = fresh()
		var drip []float64
		for n := int(cut%9) + 1; len(b) > 0; b = b[min(n, len(b)):] {
			drip = s.Unpack(drip, b[:min(n, len(b))])
			if len(s.rest) >= s.bytes {
				t.Fatalf("%d bytes kept of scans of %d", len(s.rest), s.bytes)
			}
		}
		if !slices.Equal(whole, drip) {
			t.Fatalf("whole %v, drip %v", whole, drip)
		}
	})
}

// BenchmarkUnpack is one delivery of 256 samples; a converter of 8000 samples a second makes 31 a second.
func BenchmarkUnpack(b *testing.B) {
	s, err := newScan("voltage0", []element{mustElement(b, "voltage0", 0, "le:s12/16>>4")})
	if err != nil {
		b.Fatal(err)
	}
	in := make([]byte, 512)
	out := make([]float64, 0, 256)
	b.SetBytes(int64(len(in)))
	b.ReportAllocs()
	for b.Loop() {
		out = s.Unpack(out[:0], in)
	}
}
