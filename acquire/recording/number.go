package recording

import (
	"math"
	"strconv"
)

// number is a decimal number as it stood in a field.
type number struct {
	v    float64
	last int  // power of ten of its last digit: -3 for 12.345, 1 for 1.5e2
	sci  bool // with an exponent: all its digits count, where 12.5 may be short for 12.500
}

// pow10 holds the powers of ten that a float64 holds exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// parse reads a field with a decimal point, such as 12.4, -.5 or 1.25e-05. It takes no words (NaN,
// inf), no hexadecimal numbers, no separators. The value is the float64 nearest to the text.
func parse(b []byte) (number, bool) {
	i, negative := 0, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	const full = (1<<53 - 9) / 10 // a whole number up to here takes one digit more and stays exact
	var whole uint64
	digits, decimals, point, exact := 0, 0, false, true
scan:
	for ; i < len(b); i++ {
		switch c := b[i]; {
		case c >= '0' && c <= '9':
			if digits++; point {
				decimals++
			}
			if whole > full {
				exact = false
				continue
			}
			whole = whole*10 + uint64(c-'0')
		case c == '.' && !point:
			point = true
		default:
			break scan
		}
	}
	if digits == 0 {
		return number{}, false
	}
	if i == len(b) && exact && decimals < len(pow10) {
		v := float64(whole) / pow10[decimals]
		if negative {
			v = -v
		}
		return number{v: v, last: -decimals}, true
	}
	exponent := 0
	if i < len(b) {
		if b[i] != 'e' && b[i] != 'E' {
			return number{}, false
		}
		for j := i + 1; j < len(b); j++ {
			if c := b[j]; (c < '0' || c > '9') && (j > i+1 || c != '-' && c != '+') {
				return number{}, false
			}
		}
		var err error
		if exponent, err = strconv.Atoi(string(b[i+1:])); err != nil {
			return number{}, false
		}
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil || math.IsInf(v, 0) {
		return number{}, false
	}
	return number{v: v, last: exponent - decimals, sci: i < len(b)}, true
}
