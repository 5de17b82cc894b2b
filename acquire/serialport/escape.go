package serialport

import (
	"fmt"
	"strconv"
)

// Unescape turns \r, \n, \t, \e (escape), \0, \\ and \x1b (two hexadecimal digits) in a request or a command
// of bench.toml into the bytes that they stand for.
func Unescape(s string) ([]byte, error) {
	var out []byte
	for i := 0; i < len(s); i++ {
		if s[i] != '\\' {
			out = append(out, s[i])
			continue
		}
		i++
		c := byte(0)
		if i < len(s) {
			c = s[i]
		}
		switch c {
		case 'r':
			out = append(out, '\r')
		case 'n':
			out = append(out, '\n')
		case 't':
			out = append(out, '\t')
		case 'e':
			out = append(out, 0x1b)
		case '0':
			out = append(out, 0)
		case '\\':
			out = append(out, '\\')
		case 'x':
			if i+2 >= len(s) {
				return nil, fmt.Errorf("%q ends within an escape, expected two hexadecimal digits after \\x", s)
			}
			v, err := strconv.ParseUint(s[i+1:i+3], 16, 8)
			if err != nil {
				return nil, fmt.Errorf("%q has the escape \\x%s, expected two hexadecimal digits", s, s[i+1:i+3])
			}
			out = append(out, byte(v))
			i += 2
		default:
			return nil, fmt.Errorf("%q has the escape %q, expected one of \\r, \\n, \\t, \\e, \\0, \\\\, \\x1b", s, "\\"+string(rune(c)))
		}
	}
	return out, nil
}
