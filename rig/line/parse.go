package line

import (
	"bytes"
	"errors"
	"fmt"
	"quern/rig"
	"slices"
	"strconv"
	"strings"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// ErrNoPoint is returned by Parse for a line that is empty, blank or a comment.
var ErrNoPoint = errors.New("no point on this line")

// syntaxError is a fault at a column.
type syntaxError struct {
	column int // from 1; 0: the line as a whole
	err    error
}

func (e *syntaxError) Error() string { return e.err.Error() }
func (e *syntaxError) Unwrap() error { return e.err }

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

// Parse reads one line whose time, if it has one, counts nanoseconds; with or without its newline. Tags come
// back sorted by key.
func Parse(text []byte) (Point, error) {
	text = bytes.TrimSuffix(text, []byte("\n"))
	text = bytes.TrimSuffix(text, []byte("\r"))
	if i := bytes.IndexAny(text, "\r\n"); i >= 0 {
		return Point{}, &syntaxError{i + 1, fmt.Errorf("%q inside a line", text[i])}
	}
	d := lineprotocol.NewDecoderWithBytes(text)
	if !d.Next() {
		return Point{}, ErrNoPoint
	}
	p, err := decode(d)
	if err != nil {
		var at *lineprotocol.DecodeError
		if errors.As(err, &at) {
			return Point{}, &syntaxError{at.Column, at.Err}
		}
		return Point{}, &syntaxError{0, err}
	}
	return p, nil
}

func decode(d *lineprotocol.Decoder) (Point, error) {
	var p Point
	name, err := d.Measurement()
	if err != nil {
		return p, err
	}
	p.Measurement = string(name)
	for {
		key, value, err := d.NextTag()
		if err != nil {
			return p, err
		}
		if key == nil {
			break
		}
		p.Tags = append(p.Tags, Tag{string(key), string(value)})
	}
	slices.SortStableFunc(p.Tags, func(a, b Tag) int { return strings.Compare(a.Key, b.Key) })
	for {
		key, kind, raw, err := d.NextFieldBytes()
		if err != nil {
			return p, err
		}
		if key == nil {
			break
		}
		v, err := parseValue(kind, raw)
		if err != nil {
			return p, fmt.Errorf("field %q: %w", key, err)
		}
		p.Fields = append(p.Fields, Field{string(key), v})
	}
	if p.Time, p.Timed, err = parseTime(d); err != nil {
		return p, err
	}
	return p, p.check()
}

func parseValue(kind lineprotocol.ValueKind, raw []byte) (Value, error) {
	// The grammar knows decimal numbers only; the codec would take hexadecimal floats as well.
	if kind == lineprotocol.Float && len(bytes.TrimLeft(raw, "0123456789.eE+-")) > 0 {
		return Value{}, fmt.Errorf("found %q, expected a decimal number", raw)
	}
	v, err := lineprotocol.NewValueFromBytes(kind, raw)
	if err != nil {
		return Value{}, err
	}
	switch kind {
	case lineprotocol.Float:
		return FloatValue(v.FloatV()), nil
	case lineprotocol.Int:
		return IntValue(v.IntV()), nil
	case lineprotocol.Uint:
		return UintValue(v.UintV()), nil
	case lineprotocol.Bool:
		return BoolValue(v.BoolV()), nil
	default:
		return StringValue(v.StringV()), nil
	}
}

func parseTime(d *lineprotocol.Decoder) (ns int64, timed bool, err error) {
	raw, err := d.TimeBytes()
	if err != nil || raw == nil {
		return 0, false, err
	}
	n, err := strconv.ParseInt(string(raw), 10, 64)
	if err != nil {
		return 0, false, fmt.Errorf("found time %q, expected a whole number of 64 bits", raw)
	}
	return n, true, nil
}
