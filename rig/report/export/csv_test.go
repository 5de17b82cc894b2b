package export

import (
	"bytes"
	"encoding/csv"
	"io"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// rfc4180 reads records by the grammar of RFC 4180, section 2, and keeps every byte; encoding/csv changes CR LF within
// quotes. It is of the test alone.
func rfc4180(b string) (records [][]string, ok bool) {
	var record []string
	for b != "" {
		field := ""
		if b[0] == '"' {
			b = b[1:]
			for {
				i := strings.IndexByte(b, '"')
				if i < 0 {
					return nil, false
				}
				field += b[:i]
				if b = b[i+1:]; !strings.HasPrefix(b, `"`) {
					break
				}
				field, b = field+`"`, b[1:]
			}
		} else {
			i := strings.IndexAny(b, ",\r\n\"")
			if i < 0 {
				return nil, false
			}
			field, b = b[:i], b[i:]
		}
		record = append(record, field)
		switch {
		case strings.HasPrefix(b, ","):
			b = b[1:]
		case strings.HasPrefix(b, "\r\n"):
			b = b[2:]
			records, record = append(records, record), nil
		default:
			return nil, false
		}
	}
	return records, record == nil
}

// startsFormula is what spreadsheets are known to take for the beginning of a formula or of something else than text,
// wherever they trim what comes before: common practice, after OWASP, "CSV Injection" (from memory).
func startsFormula(cell string) bool {
	if cell == "" {
		return false
	}
	if strings.ContainsRune("=+-@\t\r\n", rune(cell[0])) {
		return true
	}
	trimmed := strings.TrimFunc(cell, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
	for _, p := range []string{"=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20"} {
		if strings.HasPrefix(trimmed, p) {
			return true
		}
	}
	return false
}

var twoTexts = Table{Name: "t", Columns: []Column{word("a", ""), num("n_g", "g", 3, ""), word("b", "")}}

func FuzzText(f *testing.F) {
	for _, s := range append([]string{"\t=1", "\r\n=1", "a\r\nb", "a\nb", "\x00=1", "\xff", "-1e5", "-1.5", "+1", "''", "\u200b=1", ",", "\ufeff=1"}, nasty...) {
		f.Add(s, -12.5)
	}
	f.Fuzz(func(t *testing.T, s string, n float64) {
		var b bytes.Buffer
		w, err := newCSV(&b, twoTexts, false)
		check(t, err)
		check(t, w.row([]Cell{text(s), number(n), text(s)}), w.close())
		if !utf8.Valid(b.Bytes()) {
			t.Fatalf("%q: not UTF-8", b.String())
		}
		rows, ok := rfc4180(b.String())
		if !ok || len(rows) != 2 || len(rows[1]) != 3 || rows[0][1] != "n_g" {
			t.Fatalf("%q does not read: %q", b.String(), rows)
		}
		want := strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD")
		for _, k := range []int{0, 2} {
			cell := rows[1][k]
			if got := unguarded(cell); got != want {
				t.Fatalf("%q came back as %q", want, got)
			}
			if startsFormula(cell) && !plainNumber(cell) {
				t.Fatalf("%q starts a formula", cell)
			}
		}
		if n < 0 && n > -1e15 && n*1000 <= -1 && rows[1][1][0] != '-' {
			t.Fatalf("%g became %q", n, rows[1][1])
		}
		c := csv.NewReader(&b)
		for {
			if _, err := c.Read(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("another reader: %v", err)
			}
		}
	})
}

func TestGuard(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"", ""}, {"carrot", "carrot"}, {"=1", "'=1"}, {"-", "'-"}, {"-5", "-5"}, {"-5.25", "-5.25"}, {"-5.", "'-5."}, {"-5e3", "'-5e3"}, {"--5", "'--5"}, {"+5", "'+5"}, {"'", "''"}, {"it's", "it's"},
		{"\t", "'\t"}, {"  @x", "'  @x"}, {"\uff20x", "'\uff20x"}, {"2026-03-02", "2026-03-02"},
	} {
		if got := Guarded(c.in); got != c.want || unguarded(got) != c.in {
			t.Errorf("%q: got %q, want %q", c.in, got, c.want)
		}
	}
}

// TestNumbers: as many digits as the column has at most, a point, no exponent, no negative zero.
func TestNumbers(t *testing.T) {
	k := num("x_db", "dB", 3, "")
	for _, c := range []struct {
		in   float64
		want string
	}{{82.31749, "82.317"}, {-0.0001, "0"}, {-12.5, "-12.5"}, {1e6, "1000000"}, {0.1 + 0.2, "0.3"}, {1e21, "1000000000000000000000"}, {0.0005, "0.001"}} {
		if got := string(number(c.in).append(nil, k)); got != c.want {
			t.Errorf("%g: got %s, want %s", c.in, got, c.want)
		}
	}
	if c := number(1 / zero); c.kind != absentCell {
		t.Error("an infinity is a number")
	}
}

var zero = 0.0

// unguarded takes back what Guarded did.
func unguarded(s string) string { return strings.TrimPrefix(s, string(guard)) }
