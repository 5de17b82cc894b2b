package export

import (
	"bufio"
	"encoding/json"
	"io"
)

// jsonWriter writes one array of objects, a row a line, its keys in the order of the columns.
type jsonWriter struct {
	w       *bufio.Writer
	columns []Column
	keys    [][]byte // with quotes and colon
	buf     []byte
	rows    int
}

func newJSON(w io.Writer, t Table) *jsonWriter {
	j := &jsonWriter{w: bufio.NewWriterSize(w, 1<<16), columns: t.Columns}
	for _, k := range t.Columns {
		j.keys = append(j.keys, append(appendString(nil, k.Name), ':'))
	}
	return j
}

// appendString writes a text as JSON, without the escapes that only scripts inside pages need.
func appendString(b []byte, s string) []byte {
	var out appender
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil { // no string fails
		return append(b, `""`...)
	}
	return append(b, out[:len(out)-1]...)
}

type appender []byte

func (a *appender) Write(p []byte) (int, error) { *a = append(*a, p...); return len(p), nil }

func (j *jsonWriter) row(cells []Cell) error {
	j.buf = j.buf[:0]
	if j.rows++; j.rows == 1 {
		j.buf = append(j.buf, "[\n"...)
	} else {
		j.buf = append(j.buf, ",\n"...)
	}
	for i, c := range cells {
		if i == 0 {
			j.buf = append(j.buf, '{')
		} else {
			j.buf = append(j.buf, ',')
		}
		j.buf = append(j.buf, j.keys[i]...)
		switch c.kind {
		case absentCell:
			j.buf = append(j.buf, "null"...)
		case Number, Whole, Flag:
			j.buf = c.append(j.buf, j.columns[i])
		case Instant: // nothing in it needs an escape
			j.buf = append(j.buf, '"')
			j.buf = c.append(j.buf, j.columns[i])
			j.buf = append(j.buf, '"')
		default:
			j.buf = appendString(j.buf, c.s)
		}
	}
	j.buf = append(j.buf, '}')
	_, err := j.w.Write(j.buf)
	return err
}

func (j *jsonWriter) close() error {
	end := "\n]\n"
	if j.rows == 0 {
		end = "[]\n"
	}
	if _, err := j.w.WriteString(end); err != nil {
		return err
	}
	return j.w.Flush()
}
