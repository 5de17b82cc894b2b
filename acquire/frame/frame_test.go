package frame

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
)

func with(f func(*config.Frame)) config.Frame {
	c := Usual()
	f(&c)
	return c
}

func shaped(shape string) config.Frame { return with(func(c *config.Frame) { c.Shape = shape }) }

// feed reads text in pieces of n bytes, after an end that shows the reader where frames begin.
func feed(t testing.TB, c config.Frame, text string, n int) []Found {
	t.Helper()
	r, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	var out []Found
	to := func(f Found) { out = append(out, f) }
	for b := []byte(text); len(b) > 0; {
		k := min(n, len(b))
		r.Push(b[:k], to)
		b = b[k:]
		if len(r.buf) > Longest || cap(r.buf) > 2*Longest {
			t.Fatalf("buffer of %d bytes", cap(r.buf))
		}
	}
	return out
}

// show writes a result short: "12.5 g stable net", "out", "reject".
func show(f Found) string {
	switch {
	case f.Reject != "":
		return "reject"
	case f.OutOfRange != "":
		return "out"
	}
	m := f.Reading
	s := strings.TrimSpace(strconv.FormatFloat(m.Value, 'f', -1, 64) + " " + m.Unit)
	s += map[rig.Mark]string{rig.Yes: " stable", rig.No: " moving"}[m.Stable]
	if m.Kind != "" {
		s += " " + string(m.Kind)
	}
	return s
}

func TestLines(t *testing.T) {
	fields := with(func(c *config.Frame) {
		c.Shape, c.NumberPart, c.SignPart, c.UnitPart, c.MarkPart = "fields", 4, 3, 5, 1
	})
	echoed := with(func(c *config.Frame) { c.Shape, c.NumberPart, c.UnitPart, c.MarkPart = "fields", 3, 4, 2 })
	semicolons := with(func(c *config.Frame) { c.Shape, c.Separator, c.NumberPart = "fields", ";", 2 })
	columns := with(func(c *config.Frame) {
		c.Shape, c.MarkPart, c.MarkEnd, c.NumberPart, c.NumberEnd, c.UnitPart, c.UnitEnd = "columns", 1, 2, 4, 11, 12, 13
	})
	decimals := with(func(c *config.Frame) { c.Shape, c.Decimals = "number", 3 })
	pounds := with(func(c *config.Frame) { c.Shape, c.Unit = "number", "lb-oz" })
	onlyUnstable := with(func(c *config.Frame) { c.Shape, c.Stable, c.Unstable = "number-unit-mark", "", "?" })
	onlyStable := with(func(c *config.Frame) { c.Shape, c.Stable, c.Unstable = "mark-number-unit", "S", "" })
	kind := shaped("mark-kind-number-unit")
	for _, c := range []struct {
		cfg        config.Frame
		line, want string
	}{
		{shaped("number"), "12.5", "12.5"},
		{shaped("number"), "  +0012.50 ", "12.5"},
		{shaped("number"), "-0.0", "0"},
		{shaped("number"), ".5", "0.5"},
		{shaped("number"), "5.", "5"},
		{shaped("number"), "12.5 g", "reject"},
		{shaped("number"), "12.5 13.5", "reject"},
		{shaped("number"), "1 234.5", "reject"}, // a blank in a number may be a digit that was lost
		{shaped("number"), "1.2.3", "reject"},
		{shaped("number"), "--5", "reject"},
		{shaped("number"), "+-5", "reject"},
		{shaped("number"), "5-", "reject"},
		{shaped("number"), "12-5", "reject"},
		{shaped("number"), "1e3", "reject"},
		{shaped("number"), "0x12", "reject"},
		{shaped("number"), "NaN", "reject"},
		{shaped("number"), "1234567890123", "reject"},
		{shaped("number"), ".", "reject"},
		{shaped("number"), "-", "out"},
		{shaped("number"), "-----", "out"},
		{shaped("number"), "+ - +", "out"},
		{shaped("number"), "OL", "out"},
		{decimals, "012345", "12.345"},
		{decimals, "-12345", "-12.345"},
		{decimals, "12.3", "12.3"},
		{pounds, "2 3.5", "35.5"},
		{pounds, "-0 3.5", "-3.5"},
		{pounds, "2 lb 3.5 oz", "reject"}, // the shape is number
		{pounds, "2 16.5", "reject"},
		{pounds, "2.5 3.5", "reject"},
		{pounds, "35", "reject"},
		{shaped("number-unit"), "1234.5 g", "1234.5 g"},
		{shaped("number-unit"), "1234.5g", "1234.5 g"},
		{shaped("number-unit"), "- 12.5 g", "-12.5 g"},
		{shaped("number-unit"), "-   0.012 kg", "-0.012 kg"},
		{shaped("number-unit"), "\x02 0012.5 KG", "12.5 kg"},
		{shaped("number-unit"), "\t1.5\tlbs", "1.5 lb"},
		{shaped("number-unit"), "2 lb 3.5 oz", "35.5 lb-oz"},
		{shaped("number-unit"), "-2lb 3.5oz", "-35.5 lb-oz"},
		{shaped("number-unit"), "2 3.5 lb-oz", "35.5 lb-oz"},
		{shaped("number-unit"), "2 lb 17 oz", "reject"},
		{shaped("number-unit"), "2 lb -1 oz", "reject"},
		{shaped("number-unit"), "2 lb oz", "reject"},
		{shaped("number-unit"), "63.5 dB(A)", "63.5 dB(A)"},
		{shaped("number-unit"), "12 pcs", "12 pcs"},
		{shaped("number-unit"), "12.5", "reject"}, // the unit may have been lost
		{shaped("number-unit"), "12.5 g ?", "reject"},
		{shaped("number-unit"), "12.5 g 3", "reject"},
		{shaped("number-unit"), "12\x005 g", "reject"},
		{shaped("number-unit"), "12\x025 g", "reject"},
		{shaped("number-unit"), "12\xb5 g", "reject"},
		{shaped("number-unit"), "+       kg", "out"},
		{shaped("number-unit"), "12,5 g", "12.5 g"},
		{shaped("number-unit"), "1234,567 kg", "1234.567 kg"},
		{shaped("number-unit"), "0,345 kg", "0.345 kg"},
		{shaped("number-unit"), "12,345 kg", "reject"}, // 12.345 or 12345
		{shaped("number-unit"), "1,234.5 g", "1234.5 g"},
		{shaped("number-unit"), "1.234,5 g", "1234.5 g"},
		{shaped("number-unit"), "1,234,567 g", "1234567 g"},
		{shaped("number-unit"), "1,23,456 g", "reject"},
		{shaped("number-unit"), "12,34.5 g", "reject"},
		{shaped("mark-number-unit"), "ST 1234.5 g", "1234.5 g stable"},
		{shaped("mark-number-unit"), "US,- 1234.5 g", "-1234.5 g moving"},
		{shaped("mark-number-unit"), "? 1234.5 g", "1234.5 g moving"},
		{shaped("mark-number-unit"), "1234.5 g", "1234.5 g"},
		{shaped("mark-number-unit"), "XX 1234.5 g", "reject"},
		{shaped("mark-number-unit"), "S S 1234.5 g", "reject"},
		{shaped("mark-number-unit"), "OL 0000.0 g", "out"},
		{kind, "ST,GS,+0012.345kg", "12.345 kg stable gross"},
		{kind, "US,NT,-  12.345 kg", "-12.345 kg moving net"},
		{kind, "ST,GS,+0012,345kg", "12.345 kg stable gross"},
		{kind, "ST,GS,+        kg", "out"},
		{kind, "OL,GS,+9999.999kg", "out"},
		{kind, "ST,XX,+0012.345kg", "reject"},
		{kind, "ST,+0012.345kg", "reject"},
		{kind, "GS,+0012.345kg", "12.345 kg gross"},
		{kind, "+0012.345kg", "reject"},
		{kind, "ST,GS,+0012.345", "reject"},
		{shaped("number-unit-mark"), "12.5 g S", "12.5 g stable"},
		{shaped("number-unit-mark"), "12.5 g ?", "12.5 g moving"},
		{shaped("number-unit-mark"), "12.5 g?", "12.5 g moving"},
		{shaped("number-unit-mark"), "12.5 g", "12.5 g"},
		{shaped("number-unit-mark"), "12.5 g S S", "reject"},
		{onlyUnstable, "12.5 g", "12.5 g stable"},
		{onlyUnstable, "12.5 g ?", "12.5 g moving"},
		{onlyStable, "S 12.5 g", "12.5 g stable"},
		{onlyStable, "12.5 g", "12.5 g moving"},
		{fields, "ST,GS,-,0012.5,kg", "-12.5 kg stable"},
		{fields, "ST,GS, ,0012.5,kg", "12.5 kg stable"},
		{fields, "US,GS,+,-0012.5,kg", "reject"},
		{fields, "US,GS,x,0012.5,kg", "reject"},
		{fields, "ST,GS,-,0012.5", "reject"},
		{fields, "ST,GS,-,0012.5,", "reject"},
		{fields, "OL,GS, ,,", "out"},
		{fields, "ST,GS, ,-----,kg", "out"},
		{fields, "ST,GS", "reject"},
		{echoed, "S S    1234.5 g", "1234.5 g stable"},
		{echoed, "S D   -1234.5 g", "-1234.5 g moving"},
		{echoed, "S +", "reject"}, // a sign for a mark is no overload; the number is missing
		{semicolons, "a; 12,5 ;b", "12.5"},
		{semicolons, "a; 12.5kg ;b", "12.5 kg"},
		{semicolons, "a; 1 2.5 ;b", "reject"},
		{columns, "ST -  12.34kg", "-12.34 kg stable"},
		{columns, "US    12.34 g", "12.34 g moving"},
		{columns, "US    12.34", "reject"},
		{columns, "\x02ST    12.34kg", "12.34 kg stable"},
		{columns, "OL           ", "out"},
	} {
		for _, n := range []int{math.MaxInt, 1} {
			got := feed(t, c.cfg, "\n"+c.line+"\r\n", n)
			if len(got) != 1 || show(got[0]) != c.want {
				t.Errorf("%s %q in pieces of %d: got %v, want %s", c.cfg.Shape, c.line, n, got, c.want)
			}
		}
	}
}

func shows(found []Found) []string {
	var out []string
	for _, f := range found {
		out = append(out, show(f))
	}
	return out
}

func TestStreams(t *testing.T) {
	unit := shaped("number-unit")
	end := func(e string) config.Frame {
		return with(func(c *config.Frame) { c.End = e })
	}
	long := strings.Repeat("7", 3*Longest)
	for _, c := range []struct {
		name, text string
		cfg        config.Frame
		want       []string
	}{
		{"begins within a frame", "4.5 g\r\n1234.5 g\r\n", unit, []string{"1234.5 g"}},
		{"a frame that has not ended", "\n1 g\n2 g", unit, []string{"1 g"}},
		{"empty lines", "\n\r\n\r\n  \r\n1 g\n", unit, []string{"1 g"}},
		{"garbage", "\n\xff\x00\x80@@\n1 g\n", unit, []string{"reject", "1 g"}},
		{"a flood without end", "\n" + long + "\n1 g\n", unit, []string{"reject", "reject", "reject", "1 g"}},
		{"a flood at the beginning", long + "5 g\n1 g\n", unit, []string{"reject", "reject", "reject", "1 g"}},
		{"cr, and lf besides", "\r\n1 g\r\n2 g\r\n", end("cr"), []string{"1 g", "2 g"}},
		{"lf, and cr besides", "\n1 g\r\n2 g\r\n", end("lf"), []string{"1 g", "2 g"}},
		{"lf, and cr within", "\n1 g\r2 g\n", end("lf"), []string{"reject"}},
		{"stx and etx", "9\x03\x021 g\x03\r\n\x022 g\x03", end("etx"), []string{"1 g", "2 g"}}, // CR and LF belong to the end
		{"stx and etx alone", "9\x03\x021 g\x03\x022 g\x03", end("etx"), []string{"1 g", "2 g"}},
		{"a comma gets clear", "\n12,345 kg\n0,000 kg\n12,345 kg\n0,000 kg\n12,345 kg\n", unit, []string{"reject", "0 kg", "reject", "0 kg", "12.345 kg"}},
	} {
		for _, n := range []int{math.MaxInt, 1, 7} {
			if got := feed(t, c.cfg, c.text, n); !slices.Equal(shows(got), c.want) {
				t.Errorf("%s in pieces of %d: got %v, want %v", c.name, n, got, c.want)
			}
		}
	}
}

func TestGap(t *testing.T) {
	r, err := New(Usual())
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	at := time.Unix(0, 0)
	push := func(afterS float64, text string) {
		at = at.Add(time.Duration(afterS * 1e9))
		r.PushAt(at, []byte(text), func(f Found) { got = append(got, show(f)) })
	}
	push(0, "\n12.5")
	push(0.9*GapS, " g\n") // slow, but one frame
	push(5, "1 g\n12")
	push(1.1*GapS, "34.5 g\n") // half a frame and another: neither is believed
	push(5, "7 g\n")
	if want := []string{"12.5 g", "1 g", "reject", "7 g"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestBreak(t *testing.T) {
	r, err := New(Usual())
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	to := func(f Found) { got = append(got, show(f)) }
	r.Break(to)
	if r.Synced() || r.Partial() {
		t.Error("a new reader is within nothing")
	}
	r.Push([]byte("\n12"), to)
	if !r.Synced() || !r.Partial() {
		t.Error("12 is a part of a frame")
	}
	r.Break(to)
	r.Push([]byte("34.5 g\n1 g\n"), to)
	if want := []string{"reject", "1 g"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestUsualIsTheDefault(t *testing.T) {
	s, err := config.ReadSetup("setup.toml", []byte("[unit]\nid = \"a\"\nrated_current_a = 1\n[procedure]\nid = \"p\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Bench.Scale.Device.Frame; got != Usual() {
		t.Errorf("config fills in %+v, Usual says %+v", got, Usual())
	}
}

func TestNewRefuses(t *testing.T) {
	for want, c := range map[string]config.Frame{
		"frame.shape is \"\"":       {},
		"frame.end is \"crlf\"":     with(func(c *config.Frame) { c.End = "crlf" }),
		"frame.checksum is \"md5\"": with(func(c *config.Frame) { c.Checksum = "md5" }),
		"frame.number_part is 0":    shaped("fields"),
		"frame.number_end is 0":     with(func(c *config.Frame) { c.Shape, c.NumberPart = "columns", 3 }),
		"frame.unit_end is 2": with(func(c *config.Frame) {
			c.Shape, c.NumberPart, c.NumberEnd, c.UnitPart, c.UnitEnd = "columns", 3, 9, 10, 2
		}),
		"frame.unit_word is \"lb-oz\", ": with(func(c *config.Frame) { c.Shape, c.NumberPart, c.Unit = "fields", 1, "lb-oz" }),
	} {
		if _, err := New(c); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}
