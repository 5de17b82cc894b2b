package line

import (
	"bufio"
	"errors"
	"io"

	"quern/rig"
)

// MaxLine is the longest line that a Decoder takes, in bytes with its newline. A point of this
// project is far shorter; without a limit a file that is not text would fill the memory.
const MaxLine = 1 << 20

// Decoder reads points from a text, line by line. Blank lines and comments are passed over.
type Decoder struct {
	name string
	unit Precision
	r    *bufio.Reader
	line int
	long []byte // a line longer than the reader's buffer, put together
	err  error  // the reading is over
}

// NewDecoder returns a decoder for the text in r whose times are nanoseconds; name stands in errors.
func NewDecoder(name string, r io.Reader) *Decoder {
	return &Decoder{name: name, unit: Nanosecond, r: bufio.NewReaderSize(r, 64<<10)}
}

// Line returns the number, from 1, of the line read last.
func (d *Decoder) Line() int { return d.line }

// Next returns the next point. At the end it returns io.EOF. A line that is no line protocol is a
// *rig.FileError that names it; the next call goes on with the line after it. A line longer than
// MaxLine, or a failing reader, ends the reading.
func (d *Decoder) Next() (Point, error) {
	for {
		text, err := d.readLine()
		if err != nil {
			return Point{}, err
		}
		p, err := Parse(text, d.unit)
		if errors.Is(err, ErrNoPoint) {
			continue
		}
		if err != nil {
			return Point{}, Fault(d.name, d.line, err)
		}
		return p, nil
	}
}

// Fault wraps an error of Parse as the fault of a line of a file.
func Fault(file string, number int, err error) *rig.FileError {
	e := &rig.FileError{File: file, Line: number, Found: "a fault (" + err.Error() + ")", Want: "a line of line protocol",
		Do: "mend the line, or take it out", Err: err}
	var at *syntaxError
	if errors.As(err, &at) {
		e.Column = at.column
	}
	return e
}

// readLine returns the next line with its newline if it has one; valid until the next call.
func (d *Decoder) readLine() ([]byte, error) {
	if d.err != nil {
		return nil, d.err
	}
	text, err := d.join()
	d.err = err
	return text, err
}

func (d *Decoder) join() ([]byte, error) {
	d.long = d.long[:0]
	for {
		part, err := d.r.ReadSlice('\n')
		if err == nil && len(d.long) == 0 {
			d.line++
			return part, nil
		}
		d.long = append(d.long, part...)
		switch {
		case len(d.long) > MaxLine:
			d.line++
			return nil, &rig.FileError{File: d.name, Line: d.line, Found: "a line longer than 1 MiB",
				Want: "a line of line protocol", Do: "check that this is the right file"}
		case err == bufio.ErrBufferFull:
			continue
		case err == io.EOF && len(d.long) == 0:
			return nil, io.EOF
		case err == nil || err == io.EOF:
			d.line++
			return d.long, nil
		default:
			return nil, err
		}
	}
}
