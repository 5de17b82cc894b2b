package frame

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// fields reads a line whose parts are counted.
func (r *Reader) fields(text string) (Found, error) {
	all := r.parted(text)
	var missing error
	get := func(n int, what string) string {
		if n == 0 {
			return ""
		}
		if n > len(all) {
			missing = errors.Join(missing, fmt.Errorf("has %d fields, expected the %s in field %d", len(all), what, n))
			return ""
		}
		return all[n-1]
	}
	num, sgn := get(r.cfg.NumberPart, "number"), get(r.cfg.SignPart, "sign")
	unit, mark := get(r.cfg.UnitPart, "unit"), get(r.cfg.MarkPart, "mark")
	return r.named(num, sgn, unit, mark, missing)
}

// parted cuts a line into fields. Without a separator, blanks part fields, and so does each comma together
// with the blanks around it.
func (r *Reader) parted(text string) []string {
	var out []string
	if sep := r.cfg.Separator; sep != "" {
		for f := range strings.SplitSeq(text, sep) {
			out = append(out, strings.TrimSpace(f))
		}
		return out
	}
	for f := range strings.SplitSeq(text, ",") {
		words := strings.Fields(f)
		if len(words) == 0 {
			words = []string{""}
		}
		out = append(out, words...)
	}
	return out
}

// columns reads a line whose characters are counted, a STX in front left out.
func (r *Reader) columns(text string) (Found, error) {
	var missing error
	get := func(first, last int, what string) string {
		if first == 0 {
			return ""
		}
		if last > len(text) {
			missing = errors.Join(missing, fmt.Errorf("has %d columns, expected the %s in columns %d to %d", len(text), what, first, last))
			return ""
		}
		return strings.TrimSpace(text[first-1 : last])
	}
	num, sgn := get(r.cfg.NumberPart, r.cfg.NumberEnd, "number"), get(r.cfg.SignPart, r.cfg.SignPart, "sign")
	unit, mark := get(r.cfg.UnitPart, r.cfg.UnitEnd, "unit"), get(r.cfg.MarkPart, r.cfg.MarkEnd, "mark")
	return r.named(num, sgn, unit, mark, missing)
}

// named reads the parts that counting gave. Marks of an overload go before anything that is missing.
func (r *Reader) named(num, sgn, unit, mark string, missing error) (Found, error) {
	if slices.Contains(r.out, num) || r.signOnly(num) {
		return Found{OutOfRange: fmt.Sprintf("out of range: says %q for a number", num)}, nil
	}
	if slices.Contains(r.out, mark) && !r.signOnly(mark) {
		return Found{OutOfRange: fmt.Sprintf("out of range: says %q", mark)}, nil
	}
	if missing != nil {
		return Found{}, missing
	}
	switch {
	case sgn != "" && sgn != "+" && sgn != "-":
		return Found{}, fmt.Errorf("has %q for a sign, expected +, - or a blank", sgn)
	case sgn != "" && (strings.HasPrefix(num, "+") || strings.HasPrefix(num, "-")):
		return Found{}, fmt.Errorf("has a sign %q and another before the number %q: leave frame.sign_part out", sgn, num)
	}
	parts := apart(sgn + num)
	if len(parts) == 2 && parts[1].sort == word && r.cfg.UnitPart == 0 {
		unit, parts = parts[1].text, parts[:1]
	}
	if len(parts) != 1 || parts[0].sort != number {
		return Found{}, fmt.Errorf("has %q where the number should be", num)
	}
	if r.cfg.UnitPart > 0 && unit == "" {
		return Found{}, errors.New("names no unit where one should be")
	}
	m := Reading{Unit: unitWord(unit)}
	var err error
	if m.Value, err = r.number(parts[0].text); err != nil {
		return Found{}, err
	}
	if m.Unit == "lb-oz" {
		return Found{}, errors.New("has one number, expected pounds and ounces: let the scale show g, kg, oz or lb")
	}
	if r.cfg.MarkPart > 0 {
		if m.Stable, err = r.mark(mark); err != nil {
			return Found{}, err
		}
	}
	return Found{Reading: m}, nil
}
