package line

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// Append appends p as one line with its newline to dst and returns the longer slice. A point that
// line protocol cannot hold is an error, and dst comes back as it was.
func Append(dst []byte, p Point) ([]byte, error) {
	if err := p.check(); err != nil {
		return dst, fmt.Errorf("point %q: %w", p.Measurement, err)
	}
	var e lineprotocol.Encoder
	e.SetBuffer(dst)
	e.StartLine(p.Measurement)
	for _, t := range p.Tags {
		e.AddTag(t.Key, t.Value)
	}
	for _, f := range p.Fields {
		e.AddField(f.Key, f.Value.encoded())
	}
	var at time.Time // the codec leaves out the zero time
	if p.Timed {
		at = time.Unix(0, p.Time)
	}
	e.EndLine(at)
	if err := e.Err(); err != nil {
		return dst, fmt.Errorf("point %q: %w", p.Measurement, err)
	}
	return e.Bytes(), nil
}

// encoded returns the codec's form of a checked value.
func (v Value) encoded() lineprotocol.Value {
	var out lineprotocol.Value
	switch v.kind {
	case Float:
		out, _ = lineprotocol.FloatValue(math.Float64frombits(v.bits))
	case Int:
		out = lineprotocol.IntValue(int64(v.bits))
	case Uint:
		out = lineprotocol.UintValue(v.bits)
	case Bool:
		out = lineprotocol.BoolValue(v.bits == 1)
	case String:
		out, _ = lineprotocol.StringValue(v.text)
	}
	return out
}

// check holds the rules that reading and writing share.
func (p *Point) check() error {
	if err := checkName("measurement", p.Measurement); err != nil {
		return err
	}
	if p.Measurement[0] == '#' {
		return errors.New(`measurement begins with "#", which makes the line a comment`)
	}
	for i, t := range p.Tags {
		if err := checkName("tag key", t.Key); err != nil {
			return err
		}
		if err := checkWord("value of tag "+strconv.Quote(t.Key), t.Value); err != nil {
			return err
		}
		if i > 0 && p.Tags[i-1].Key >= t.Key {
			return fmt.Errorf("tag %q follows tag %q: tags ascend by key, each key once", t.Key, p.Tags[i-1].Key)
		}
	}
	if len(p.Fields) == 0 {
		return errors.New("no field: a line needs at least one")
	}
	for i, f := range p.Fields {
		if err := checkName("field key", f.Key); err != nil {
			return err
		}
		for _, g := range p.Fields[:i] {
			if g.Key == f.Key {
				return fmt.Errorf("field %q stands twice", f.Key)
			}
		}
		if err := f.Value.check(); err != nil {
			return fmt.Errorf("field %q: %w", f.Key, err)
		}
	}
	return nil
}

func (v Value) check() error {
	switch v.kind {
	case None:
		return errors.New("no value")
	case Float:
		if f := math.Float64frombits(v.bits); math.IsNaN(f) || math.IsInf(f, 0) {
			return fmt.Errorf("%v is not a finite number", f)
		}
	case String:
		return checkText("text", v.text)
	}
	return nil
}

// checkName checks a measurement or a key. Engines keep names that begin with an underscore to
// themselves.
func checkName(what, s string) error {
	if strings.HasPrefix(s, "_") {
		return fmt.Errorf("%s %q begins with an underscore, which is reserved", what, s)
	}
	return checkWord(what, s)
}

// checkWord checks an unquoted part of the line.
func checkWord(what, s string) error {
	if s == "" {
		return fmt.Errorf("%s is empty", what)
	}
	if strings.HasSuffix(s, `\`) {
		return fmt.Errorf("%s %q ends in a backslash, which would escape what follows", what, s)
	}
	return checkText(what, s)
}

// checkText refuses what some engine would read otherwise: the escapes \n, \r and \t are not known
// to all of them, and a raw newline ends the line.
func checkText(what, s string) error {
	if !utf8.ValidString(s) {
		return fmt.Errorf("%s %q is not UTF-8", what, s)
	}
	for i := 0; i < len(s); i++ {
		if s[i] < ' ' || s[i] == 0x7f {
			return fmt.Errorf("%s %q holds the control character %#02x", what, s, s[i])
		}
	}
	return nil
}
