package export

import (
	"bufio"
	"io"
	"strings"
	"unicode"
)

// A text in a CSV file must not become a formula in whatever opens it. So one whose first character that is seen is
// = + - @ or one of their full-width forms, or that begins with a tab, a carriage return, a line feed or an apostrophe,
// gets an apostrophe before it. To read it back, take one apostrophe off the front of a text that has one. Numbers have
// no apostrophe, negative ones neither: they stand in columns of numbers, and a text that is nothing but a plain negative
// number (-12.5) is one to a spreadsheet too, and stays as it is.
const guard = '\''

const (
	formulas = "=+-@\uff1d\uff0b\uff0d\uff20"
	leaders  = "\t\r\n'"
)

// Guarded returns a text as it stands in a cell of CSV.
func Guarded(s string) string {
	if s == "" || plainNumber(s) {
		return s
	}
	seen := strings.TrimLeftFunc(s, func(r rune) bool { return unicode.IsSpace(r) || !unicode.IsPrint(r) })
	if strings.ContainsRune(leaders, rune(s[0])) || seen != "" && strings.ContainsRune(formulas, firstRune(seen)) {
		return string(guard) + s
	}
	return s
}

func firstRune(s string) rune {
	for _, r := range s {
		return r
	}
	return 0
}

// plainNumber tells whether a text is a number such as 12, -12 or -12.5.
func plainNumber(s string) bool {
	s = strings.TrimPrefix(s, "-")
	before, after, point := strings.Cut(s, ".")
	digits := func(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }
	return digits(before) && (!point || digits(after))
}

// csvWriter writes RFC 4180: commas, a header, CR LF, quotes where they are needed. Text is UTF-8.
type csvWriter struct {
	w       *bufio.Writer
	columns []Column
	buf     []byte
}

func newCSV(w io.Writer, t Table, bom bool) (*csvWriter, error) {
	c := &csvWriter{w: bufio.NewWriterSize(w, 1<<16), columns: t.Columns}
	if bom {
		c.buf = append(c.buf, "\ufeff"...)
	}
	for i, k := range t.Columns {
		if i > 0 {
			c.buf = append(c.buf, ',')
		}
		c.buf = append(c.buf, k.Name...)
	}
	c.buf = append(c.buf, "\r\n"...)
	_, err := c.w.Write(c.buf)
	return c, err
}

func (c *csvWriter) row(cells []Cell) error {
	c.buf = c.buf[:0]
	for i, x := range cells {
		if i > 0 {
			c.buf = append(c.buf, ',')
		}
		if x.kind == Text {
			c.buf = appendQuoted(c.buf, Guarded(x.s))
		} else {
			c.buf = x.append(c.buf, c.columns[i])
		}
	}
	c.buf = append(c.buf, "\r\n"...)
	_, err := c.w.Write(c.buf)
	return err
}

func (c *csvWriter) close() error { return c.w.Flush() }

func appendQuoted(b []byte, s string) []byte {
	if !strings.ContainsAny(s, ",\"\r\n;\t") && s == strings.TrimSpace(s) {
		return append(b, s...)
	}
	b = append(b, '"')
	b = append(b, strings.ReplaceAll(s, `"`, `""`)...)
	return append(b, '"')
}
