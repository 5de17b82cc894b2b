package frame

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"quern/config"
)

// sort is what a part of a line is.
type sort byte

const (
	number sort = iota // with a sign, if one stands before it
	word
	sign // one or several, without a number
)

type part struct {
	sort sort
	text string
}

// apart cuts a line into its parts. Blanks, commas, colons and the like between parts are passed over.
func apart(s string) []part {
	var out []part
	for i := 0; i < len(s); {
		c := s[i]
		from := i
		switch {
		case strings.IndexByte(" \t,;:=", c) >= 0:
			i++
		case c == '+' || c == '-':
			for i < len(s) && (s[i] == '+' || s[i] == '-') {
				i++
			}
			j := i
			for j < len(s) && (s[j] == ' ' || s[j] == '\t') {
				j++
			}
			if !numberAt(s, j) {
				out = append(out, part{sign, s[from:i]})
				break
			}
			n := numberEnd(s, j)
			out = append(out, part{number, s[from:i] + s[j:n]})
			i = n
		case numberAt(s, i):
			i = numberEnd(s, i)
			out = append(out, part{number, s[from:i]})
		case letter(c):
			for i++; i < len(s) && (letter(s[i]) || inner(s, i)); i++ {
			}
			out = append(out, part{word, s[from:i]})
		default:
			i++
			out = append(out, part{word, s[from:i]})
		}
	}
	return out
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

// letter tells what words, units among them, are made of: "dB(A)", "L/min", "%".
func letter(c byte) bool {
	return c|0x20 >= 'a' && c|0x20 <= 'z' || c == '(' || c == ')' || c == '/' || c == '%' || c == '_'
}

// inner tells whether a hyphen or colon stands between two letters: "lb-oz".
func inner(s string, i int) bool {
	return (s[i] == '-' || s[i] == ':') && letter(s[i-1]) && i+1 < len(s) && letter(s[i+1])
}

func numberAt(s string, i int) bool {
	return i < len(s) && (digit(s[i]) || s[i] == '.' && i+1 < len(s) && digit(s[i+1]))
}

func numberEnd(s string, i int) int {
	for ; i < len(s); i++ {
		comma := s[i] == ',' && i+1 < len(s) && digit(s[i-1]) && digit(s[i+1])
		if !digit(s[i]) && s[i] != '.' && !comma {
			break
		}
	}
	return i
}

// ready reads a line of one of the ready shapes.
func (r *Reader) ready(text string) (Found, error) {
	parts := apart(text)
	if why := r.outOfRange(parts); why != "" {
		return Found{OutOfRange: why}, nil
	}
	at := slices.IndexFunc(parts, func(p part) bool { return p.sort == number })
	if at < 0 {
		return Found{}, errors.New("has no number")
	}
	before := parts[:at]
	m, after, err := r.measure(parts[at:])
	if err != nil {
		return Found{}, err
	}
	want, ok := shapes[r.cfg.Shape]
	if !ok {
		return Found{}, fmt.Errorf("cannot be read by shape %q", r.cfg.Shape)
	}
	for _, p := range slices.Concat(before, after) {
		if p.sort != word {
			return Found{}, fmt.Errorf("has %q beside the number: damaged, or frame.shape is another", p.text)
		}
	}
	mark := ""
	switch {
	case want.unit != (m.Unit != ""):
		if want.unit {
			return Found{}, errors.New("names no unit, expected one after the number: damaged, or frame.shape is number")
		}
		return Found{}, fmt.Errorf("names a unit %q, expected only a number: damaged, or frame.shape is number-unit", m.Unit)
	case want.kind && len(before) > 0:
		m.Kind, ok = kinds[before[len(before)-1].text]
		if !ok {
			return Found{}, fmt.Errorf("has %q before the number, expected GS, G, NT or N: gross or net", before[len(before)-1].text)
		}
		before = before[:len(before)-1]
	case want.kind:
		return Found{}, errors.New("does not say gross or net before the number")
	}
	if want.front && len(before) == 1 {
		mark, before = before[0].text, nil
	}
	if want.back && len(after) == 1 {
		mark, after = after[0].text, nil
	}
	if len(before)+len(after) > 0 {
		p := slices.Concat(before, after)[0]
		return Found{}, fmt.Errorf("has %q too much for the shape %s", p.text, r.cfg.Shape)
	}
	if want.front || want.back {
		if m.Stable, err = r.mark(mark); err != nil {
			return Found{}, err
		}
	}
	return Found{Reading: m}, nil
}

// shape is which parts stand around the number of a line.
type shape struct{ front, kind, unit, back bool }

var shapes = map[string]shape{
	"number":                {},
	"number-unit":           {unit: true},
	"mark-number-unit":      {front: true, unit: true},
	"mark-kind-number-unit": {front: true, kind: true, unit: true},
	"number-unit-mark":      {unit: true, back: true},
}

// kinds are the words for gross and net (common practice).
var kinds = map[string]Kind{"GS": Gross, "G": Gross, "GROSS": Gross, "NT": Net, "N": Net, "NET": Net}

// outOfRange returns what a line says instead of a number. A sign counts only where there is no number.
func (r *Reader) outOfRange(parts []part) string {
	numbers := slices.ContainsFunc(parts, func(p part) bool { return p.sort == number })
	for _, p := range parts {
		if p.sort == word && slices.Contains(r.out, p.text) {
			return fmt.Sprintf("out of range: says %q", p.text)
		}
		if p.sort == sign && !numbers && r.signOnly(p.text) {
			return fmt.Sprintf("out of range: says %q for a number", p.text)
		}
	}
	return ""
}

// signOnly tells whether text is one listed sign, repeated: "-----".
func (r *Reader) signOnly(text string) bool {
	return text != "" && (text[0] == '+' || text[0] == '-') &&
		strings.Trim(text, text[:1]) == "" && slices.Contains(r.out, text[:1])
}

// measure reads a number with the unit after it, or pounds and ounces, and returns what follows.
func (r *Reader) measure(p []part) (Reading, []part, error) {
	is := func(i int, s sort) bool { return i < len(p) && p[i].sort == s }
	switch {
	case is(1, word) && unitWord(p[1].text) == "lb" && is(2, number) && is(3, word) && unitWord(p[3].text) == "oz":
		v, err := r.both(p[0].text, p[2].text)
		return Reading{Value: v, Unit: "lb-oz"}, p[4:], err
	case is(1, number) && is(2, word) && unitWord(p[2].text) == "lb-oz":
		v, err := r.both(p[0].text, p[1].text)
		return Reading{Value: v, Unit: "lb-oz"}, p[3:], err
	case is(1, number) && len(p) == 2 && r.cfg.Unit == "lb-oz":
		v, err := r.both(p[0].text, p[1].text)
		return Reading{Value: v}, nil, err
	}
	if is(1, word) && unitWord(p[1].text) == "lb-oz" || r.cfg.Unit == "lb-oz" && !is(1, word) {
		return Reading{}, nil, errors.New("has one number, expected pounds and ounces")
	}
	v, err := r.number(p[0].text)
	if err != nil {
		return Reading{}, nil, err
	}
	unit, rest := "", p[1:]
	if len(rest) > 0 && rest[0].sort == word {
		unit, rest = unitWord(rest[0].text), rest[1:]
	}
	return Reading{Value: v, Unit: unit}, rest, nil
}

// both reads pounds and ounces, and returns ounces. 16 oz make a lb.
func (r *Reader) both(lb, oz string) (float64, error) {
	pounds, err := r.number(lb)
	if err != nil {
		return 0, err
	}
	ounces, err := r.number(oz)
	if err != nil {
		return 0, err
	}
	if pounds != float64(int64(pounds)) || strings.ContainsAny(lb, ".,") || strings.ContainsAny(oz, "+-") || ounces >= 16 {
		return 0, fmt.Errorf("has %s lb and %s oz, expected whole pounds and 0 to 16 ounces", lb, oz)
	}
	if strings.HasPrefix(lb, "-") { // also of -0 lb
		return pounds*16 - ounces, nil
	}
	return pounds*16 + ounces, nil
}

// check tells what is wrong with the description of a frame.
func check(c config.Frame) error {
	key := func(name, found, want, do string) error {
		return fmt.Errorf("frame.%s is %s, expected %s: %s", name, found, want, do)
	}
	if _, ok := shapes[c.Shape]; !ok && c.Shape != "fields" && c.Shape != "columns" {
		return key("shape", fmt.Sprintf("%q", c.Shape), "one of number, number-unit, mark-number-unit, mark-kind-number-unit, number-unit-mark, fields, columns", "quern listen proposes one")
	}
	if _, ok := endWords[c.End]; !ok {
		return key("end", fmt.Sprintf("%q", c.End), "one of line, cr, lf, etx", "quern listen proposes one")
	}
	if _, digits := Sum(c.Checksum, nil); digits == 0 && c.Checksum != "none" && c.Checksum != "" {
		return key("checksum", fmt.Sprintf("%q", c.Checksum), "one of none, xor, sum, crc8, crc16-modbus, crc16-ccitt, crc32", "see the device's manual")
	}
	if (c.Shape == "fields" || c.Shape == "columns") && c.NumberPart < 1 {
		return key("number_part", fmt.Sprint(c.NumberPart), "the field or first column of the number, from 1", "count them in what quern listen shows")
	}
	if c.Shape == "columns" {
		for _, x := range []struct {
			name        string
			first, last int
		}{{"number_end", c.NumberPart, c.NumberEnd}, {"unit_end", c.UnitPart, c.UnitEnd}, {"mark_end", c.MarkPart, c.MarkEnd}} {
			if x.first > 0 && x.last < x.first {
				return key(x.name, fmt.Sprint(x.last), fmt.Sprintf("the last column, %d or more", x.first), "count columns in what quern listen shows")
			}
		}
	}
	if (c.Shape == "fields" || c.Shape == "columns") && c.Unit == "lb-oz" {
		return key("unit_word", `"lb-oz"`, "a unit of one number", "let the scale show g, kg, oz or lb")
	}
	return nil
}
