package frame

import (
	"fmt"
	"strconv"
	"strings"
)

// mostDigits is how many digits a number may have. No instrument shows more; a float64 holds them all.
const mostDigits = 12

// number reads a number: a sign, blanks, digits, and points and commas among them. A comma is a decimal
// sign or parts thousands; where it may be either, the number is refused, unless the stream has shown
// numbers before whose comma could only be a decimal sign.
func (r *Reader) number(text string) (float64, error) {
	body := strings.TrimLeft(text, "+-")
	sign := text[:len(text)-len(body)]
	body = strings.TrimLeft(body, " \t")
	if len(sign) > 1 {
		return 0, fmt.Errorf("has %d signs before a number", len(sign))
	}
	whole, fraction, err := r.split(body)
	if err != nil {
		return 0, err
	}
	digits := whole + fraction
	for _, c := range digits {
		if c < '0' || c > '9' {
			return 0, fmt.Errorf("has %q, expected a number such as 12.4", text)
		}
	}
	if len(digits) == 0 || len(digits) > mostDigits {
		return 0, fmt.Errorf("has %q, expected a number of 1 to %d digits", text, mostDigits)
	}
	places := len(fraction)
	if !strings.ContainsAny(body, ".,") {
		places = r.cfg.Decimals
	}
	// One conversion, so that 12.4 is the float64 nearest to 12.4.
	v, err := strconv.ParseFloat(sign+digits+"e-"+strconv.Itoa(places), 64)
	if err != nil {
		return 0, fmt.Errorf("has %q, expected a number such as 12.4", text)
	}
	if v == 0 {
		v = 0 // no negative zero
	}
	return v, nil
}

// split parts a number without sign at its decimal sign, and takes out what parts thousands.
func (r *Reader) split(body string) (whole, fraction string, err error) {
	points, commas := strings.Count(body, "."), strings.Count(body, ",")
	point, comma := strings.LastIndex(body, "."), strings.LastIndex(body, ",")
	odd := fmt.Errorf("has %q, in which points and commas do not make one number", body)
	switch {
	case commas == 0 && points == 0:
		return body, "", nil
	case commas == 0 && points == 1:
		return body[:point], body[point+1:], nil
	case commas == 0:
		return "", "", odd
	case points == 1 && point > comma:
		return thousands(body[:point], ",", body[point+1:], odd)
	case points >= 1 && commas == 1 && comma > point:
		return thousands(body[:comma], ".", body[comma+1:], odd)
	case points > 0:
		return "", "", odd
	case commas > 1:
		return thousands(body, ",", "", odd)
	}
	whole, fraction = body[:comma], body[comma+1:]
	if whole == "" || fraction == "" {
		return "", "", odd
	}
	if len(fraction) != 3 || len(whole) > 3 || whole[0] == '0' {
		r.commas = min(r.commas+1, sureCommas)
		return whole, fraction, nil
	}
	if r.commas < sureCommas {
		return "", "", fmt.Errorf("has %q, which may be %s.%s or %s%s: let the device send a point, or empty the pan once, since 0,%s is clear", body, whole, fraction, whole, fraction, "000")
	}
	return whole, fraction, nil
}

// sureCommas is how many clear decimal commas settle the unclear ones: one may be a damaged number.
const sureCommas = 2

// thousands takes out what parts the digits of whole in threes.
func thousands(whole, sep, fraction string, odd error) (string, string, error) {
	groups := strings.Split(whole, sep)
	if len(groups[0]) < 1 || len(groups[0]) > 3 || groups[0][0] == '0' {
		return "", "", odd
	}
	for _, g := range groups[1:] {
		if len(g) != 3 {
			return "", "", odd
		}
	}
	return strings.Join(groups, ""), fraction, nil
}
