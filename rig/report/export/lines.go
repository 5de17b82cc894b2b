package export

import (
	"bufio"
	"cmp"
	"io"
	"slices"
	"strings"
	"unicode"

	"quern/rig/line"
)

// lineWriter writes a point a row: the table is its measurement, the columns that are keys its tags, the others its
// fields, and utc its time. A row whose other columns are all absent has no point. Line protocol has no control
// characters; a text that has some gets spaces in their place.
type lineWriter struct {
	w     *bufio.Writer
	table Table
	buf   []byte
}

func newLines(w io.Writer, t Table) *lineWriter {
	return &lineWriter{w: bufio.NewWriterSize(w, 1<<16), table: t}
}

func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, s)
}

func (l *lineWriter) row(cells []Cell) error {
	p := line.Point{Measurement: l.table.Name}
	for i, c := range cells {
		k := l.table.Columns[i]
		switch {
		case c.kind == absentCell:
		case c.kind == Instant:
			if k.Name == utcColumn.Name {
				p.Time, p.Timed = c.n, true
			} else {
				p.Fields = append(p.Fields, line.Field{Key: k.Name, Value: line.StringValue(string(c.append(nil, k)))})
			}
		case k.Key:
			if v := strings.TrimRight(printable(string(c.append(nil, k))), "\\ "); v != "" {
				p.Tags = append(p.Tags, line.Tag{Key: k.Name, Value: v})
			}
		case c.kind == Number:
			p.Fields = append(p.Fields, line.Field{Key: k.Name, Value: line.FloatValue(c.rounded(k))})
		case c.kind == Whole:
			p.Fields = append(p.Fields, line.Field{Key: k.Name, Value: line.IntValue(c.n)})
		case c.kind == Flag:
			p.Fields = append(p.Fields, line.Field{Key: k.Name, Value: line.BoolValue(c.n != 0)})
		default:
			p.Fields = append(p.Fields, line.Field{Key: k.Name, Value: line.StringValue(printable(c.s))})
		}
	}
	if len(p.Fields) == 0 {
		return nil
	}
	slices.SortFunc(p.Tags, func(a, b line.Tag) int { return cmp.Compare(a.Key, b.Key) })
	var err error
	if l.buf, err = line.Append(l.buf[:0], p); err != nil {
		return err
	}
	_, err = l.w.Write(l.buf)
	return err
}

func (l *lineWriter) close() error { return l.w.Flush() }
