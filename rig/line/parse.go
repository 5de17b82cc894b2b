package line

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// Precision is the unit in which a line counts its time, in nanoseconds.
type Precision int64

// The precisions in use. The project writes Nanosecond only.
const (
	Nanosecond  Precision = 1
	Microsecond Precision = 1e3
	Millisecond Precision = 1e6
	Second      Precision = 1e9
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

// Parse reads one line, with or without its newline. Tags come back sorted by key.
func Parse(text []byte, unit Precision) (Point, error) {
	text = bytes.TrimSuffix(text, []byte("\n"))
	text = bytes.TrimSuffix(text, []byte("\r"))
	if i := bytes.IndexAny(text, "\r\n"); i >= 0 {
		return Point{}, &syntaxError{i + 1, fmt.Errorf("%q inside a line", text[i])}
	}
	d := lineprotocol.NewDecoderWithBytes(text)
	if !d.Next() {
		return Point{}, ErrNoPoint
	}
	p, err := decode(d, unit)
	if err != nil {
		var at *lineprotocol.DecodeError
		if errors.As(err, &at) {
			return Point{}, &syntaxError{at.Column, at.Err}
		}
		return Point{}, &syntaxError{0, err}
	}
	return p, nil
}

func decode(d *lineprotocol.Decoder, unit Precision) (Point, error) {
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
	if p.Time, p.Timed, err = parseTime(d, unit); err != nil {
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

func parseTime(d *lineprotocol.Decoder, unit Precision) (ns int64, timed bool, err error) {
	raw, err := d.TimeBytes()
	if err != nil || raw == nil {
		return 0, false, err
	}
	n, err := strconv.ParseInt(string(raw), 10, 64)
	if err != nil {
		return 0, false, fmt.Errorf("found time %q, expected a whole number of 64 bits", raw)
	}
	if u := int64(unit); n > math.MaxInt64/u || n < math.MinInt64/u {
		return 0, false, fmt.Errorf("time %q lies outside the years 1677 to 2262 that nanoseconds can hold", raw)
	}
	return n * int64(unit), true, nil
}
