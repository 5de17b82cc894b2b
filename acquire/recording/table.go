package recording

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"quern/rig"
)

const (
	readBytes = 64 << 10 // read at once
	maxLine   = 4 << 10  // bytes; a row has three numbers at most
	shown     = 40       // bytes of a field that an error repeats
)

// columns are the columns that a kind of table may have, time_s first.
type columns []string

// String returns the header, or the headers, that the columns make.
func (c columns) String() string {
	if slices.Equal(c, clampColumns) { // not all of them at once
		return waveColumns.String() + " or " + rmsColumns.String()
	}
	return strings.Join(c, ",")
}

// table reads the rows of one CSV file. Memory is bounded whatever the file holds.
type table struct {
	r     io.Reader
	name  string
	buf   []byte
	left  []byte // part of buf not yet used
	end   bool   // r has no more
	line  int    // of the row that was read last, from 1
	known columns

	column []string // names in the order of the file
	fields [][]byte // of the row that was read last, in the order of the file
}

// openTable reads the header. known are the columns that the table may have.
func openTable(r io.Reader, name string, known columns) (*table, error) {
	t := &table{r: r, name: name, buf: make([]byte, readBytes), known: known}
	head, err := t.readLine()
	if err == io.EOF {
		t.line = 1
		return nil, t.fail("an empty file", t.wantHeader(), "export the recording again")
	}
	if err != nil {
		return nil, err
	}
	head = bytes.TrimPrefix(head, []byte("\ufeff"))
	if err := t.checkHead(head); err != nil {
		return nil, err
	}
	if err := t.split(head); err != nil {
		return nil, err
	}
	for _, f := range t.fields {
		name := string(f)
		switch {
		case !slices.Contains(known, name):
			return nil, t.fail("column "+quote(f), "only "+known.String(), "rename or remove the column")
		case slices.Contains(t.column, name):
			return nil, t.fail("column "+name+" twice", t.wantHeader(), "remove one of the two")
		}
		t.column = append(t.column, name)
	}
	return t, nil
}

// checkHead tells what is no header line of ours, by its usual causes.
func (t *table) checkHead(head []byte) error {
	if first, _, _ := bytes.Cut(head, []byte(",")); len(bytes.TrimSpace(head)) > 0 {
		if _, ok := parse(bytes.TrimSpace(first)); ok {
			return t.fail("numbers", t.wantHeader(), "add a first line that names the columns")
		}
	}
	switch {
	case bytes.HasPrefix(head, []byte("\xff\xfe")) || bytes.HasPrefix(head, []byte("\xfe\xff")):
		return t.fail("text in UTF-16", "text in UTF-8", "save the table as UTF-8")
	case bytes.IndexByte(head, '\r') >= 0:
		return t.fail("lines that end in a carriage return only", "lines that end in a line feed", "save the table with common line ends")
	case bytes.IndexFunc(head, func(c rune) bool { return c < ' ' && c != '\t' }) >= 0:
		return t.fail("bytes that are no text", t.wantHeader(), "name a CSV file")
	case bytes.IndexByte(head, ';') >= 0:
		return t.fail(`";" between the columns`, `","`, "export with commas between values and decimal points in them")
	case bytes.IndexByte(head, '\t') >= 0:
		return t.fail("a tab between the columns", `","`, "export with commas between values and decimal points in them")
	case len(bytes.TrimSpace(head)) == 0:
		return t.fail("an empty line", t.wantHeader(), "begin the file with its header")
	}
	return nil
}

func (t *table) wantHeader() string { return "a header such as " + t.known.String() }

// at returns the position of a column, -1 if the table has none.
func (t *table) at(name string) int { return slices.Index(t.column, name) }

// need returns the position of a column that must be there.
func (t *table) need(name string) (int, error) {
	if i := t.at(name); i >= 0 {
		return i, nil
	}
	return -1, t.fail("no column "+name, t.wantHeader(), "add the column, or rename the one that holds it")
}

// fail is an error in the present line.
func (t *table) fail(found, want, do string) error {
	return &rig.FileError{File: t.name, Line: t.line, Byte: -1, Found: found, Want: want, Do: do}
}

// decimal writes a number without needless digits.
func decimal(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// quote repeats a field in an error, on one line and not too long.
func quote(b []byte) string {
	if len(b) > shown {
		return fmt.Sprintf("%.*q...", shown, b)
	}
	return fmt.Sprintf("%q", b)
}

// next reads the next row into t.fields. Empty lines may stand at the end of the file only. At the
// end it returns io.EOF.
func (t *table) next() error {
	line, err := t.readLine()
	if err != nil {
		return err
	}
	if len(bytes.TrimSpace(line)) == 0 {
		empty := t.line
		for len(bytes.TrimSpace(line)) == 0 {
			if line, err = t.readLine(); err != nil {
				return err
			}
		}
		t.line = empty
		return t.fail("an empty line", "rows without a gap", "remove the line")
	}
	if err := t.split(line); err != nil {
		return err
	}
	if len(t.fields) != len(t.column) {
		return t.fail(rig.Count(len(t.fields), "value"), fmt.Sprintf("%d (%s)", len(t.column), strings.Join(t.column, ",")),
			"give every column one value, with a decimal point")
	}
	return nil
}

// split cuts a line at its commas; spaces and one pair of quotes round a field fall away.
func (t *table) split(line []byte) error {
	t.fields = t.fields[:0]
	for {
		line = bytes.TrimLeft(line, " ")
		if len(line) > 0 && line[0] == '"' {
			n := bytes.IndexByte(line[1:], '"')
			if n < 0 {
				return t.fail("a quote without its end", "values between commas", "remove the quotes")
			}
			t.fields = append(t.fields, bytes.TrimSpace(line[1:1+n]))
			rest := bytes.TrimLeft(line[n+2:], " ")
			if len(rest) == 0 {
				return nil
			}
			if rest[0] != ',' {
				return t.fail(quote(line), "a comma after the quotes", "remove the quotes")
			}
			line = rest[1:]
			continue
		}
		n := bytes.IndexByte(line, ',')
		if n < 0 {
			t.fields = append(t.fields, bytes.TrimRight(line, " "))
			return nil
		}
		t.fields = append(t.fields, bytes.TrimRight(line[:n], " "))
		line = line[n+1:]
	}
}

// number reads the field of a column as a number between low and high.
func (t *table) number(column int, low, high float64, unit string) (number, error) {
	f := t.fields[column]
	n, ok := parse(f)
	if !ok {
		want, do := "a number such as 12.4", "give every row a number"
		switch {
		case len(f) == 0:
			return n, t.fail("no "+t.column[column], want, do)
		case bytes.IndexByte(f, ',') >= 0:
			do = "use a decimal point"
		case bytes.IndexByte(f, ';') >= 0:
			do = "separate values by commas"
		}
		return n, t.fail(t.column[column]+" "+quote(f), want, do)
	}
	if !(n.v >= low && n.v <= high) {
		return n, t.fail(t.column[column]+" "+quote(f), fmt.Sprintf("%.10g to %.10g %s", low, high, unit), "correct or remove the row")
	}
	return n, nil
}

// readLine returns the next line without its end, valid until the next call. An end of the file in
// the middle of a line ends the line.
func (t *table) readLine() ([]byte, error) {
	t.line++
	searched := 0
	for {
		if n := bytes.IndexByte(t.left[searched:], '\n'); n >= 0 {
			line := t.left[:searched+n]
			t.left = t.left[searched+n+1:]
			return t.whole(line)
		}
		searched = len(t.left)
		if t.end || searched > maxLine {
			if searched == 0 {
				t.line--
				return nil, io.EOF
			}
			line := t.left
			t.left = nil
			return t.whole(line)
		}
		if err := t.fill(); err != nil {
			return nil, err
		}
	}
}

// whole takes the carriage return off a line, and refuses one that is too long.
func (t *table) whole(line []byte) ([]byte, error) {
	if len(line) > maxLine {
		return nil, t.fail(fmt.Sprintf("a line of more than %d bytes", maxLine), "a row of "+t.known.String(),
			"name a CSV file with a line feed after every row")
	}
	return bytes.TrimSuffix(line, []byte("\r")), nil
}

// fill reads on behind what is left.
func (t *table) fill() error {
	n := copy(t.buf, t.left)
	for range 100 { // a reader that gives nothing so often is broken
		m, err := t.r.Read(t.buf[n:])
		t.left = t.buf[:n+m]
		if errors.Is(err, io.EOF) {
			t.end = true
			return nil
		}
		if err != nil {
			return t.broken(err)
		}
		if m > 0 {
			return nil
		}
	}
	return t.broken(io.ErrNoProgress)
}

// broken is an error of the disk near the present line.
func (t *table) broken(err error) error {
	return &rig.FileError{File: t.name, Line: t.line, Found: "a read error (" + err.Error() + ")", Want: "more rows", Do: "check the disk", Err: err}
}
