package frame

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"quern/config"
)

// The check values of "123456789" are those of the public catalogue of parametrised CRC algorithms
// (CRC-8/SMBUS, CRC-16/MODBUS, CRC-16/IBM-3740, CRC-32/ISO-HDLC; from memory). 0x31 and the sum follow by
// arithmetic.
func TestSum(t *testing.T) {
	for _, c := range []struct {
		name   string
		want   uint32
		digits int
	}{
		{"xor", 0x31, 2}, {"sum", 477 % 256, 2}, {"crc8", 0xf4, 2}, {"crc16-modbus", 0x4b37, 4},
		{"crc16-ccitt", 0x29b1, 4}, {"crc32", 0xcbf43926, 8}, {"none", 0, 0}, {"crc64", 0, 0},
	} {
		if got, digits := Sum(c.name, []byte("123456789")); got != c.want || digits != c.digits {
			t.Errorf("%s: got %X in %d digits, want %X in %d", c.name, got, digits, c.want, c.digits)
		}
	}
}

var sums = []string{"xor", "sum", "crc8", "crc16-modbus", "crc16-ccitt", "crc32"}

func sealed(name, text string) string {
	v, digits := Sum(name, []byte(text))
	return fmt.Sprintf("%s*%0*X", text, digits, v)
}

// A byte that was changed or lost is never taken for another reading.
func TestChecksumFindsDamage(t *testing.T) {
	for _, name := range sums {
		c := with(func(c *config.Frame) { c.Shape, c.Checksum = "mark-number-unit", name })
		line := sealed(name, "ST 1234.5 g")
		if got := feed(t, c, "\n"+line+"\r\n"+strings.ToLower(line[11:])+"\n", 3); show(got[0]) != "1234.5 g stable" || len(got) != 2 || got[1].Reject == "" {
			t.Fatalf("%s: got %v", name, got)
		}
		for i := range line {
			for v := i % 3; v < 256; v += 3 {
				b := []byte(line)
				b[i] = byte(v)
				for _, f := range feed(t, c, "\n"+string(b)+"\n", math.MaxInt) {
					if s := show(f); s != "reject" && s != "1234.5 g stable" {
						t.Errorf("%s: %q gives %s", name, b, s)
					}
				}
			}
			lost := line[:i] + line[i+1:]
			for _, f := range feed(t, c, "\n"+lost+"\n", math.MaxInt) {
				if f.Reject == "" {
					t.Errorf("%s: %q gives %s", name, lost, show(f))
				}
			}
		}
	}
}

func TestChecksumParts(t *testing.T) {
	c := with(func(c *config.Frame) { c.Checksum, c.ChecksumSep = "crc16-modbus", "" })
	text := "\x02  12.5 g"
	v, _ := Sum("crc16-modbus", []byte(text))
	for line, want := range map[string]string{
		fmt.Sprintf("%s%04x", text, v):      "12.5 g",
		fmt.Sprintf("%s%04x", text[1:], v):  "reject", // the check value covers the STX
		fmt.Sprintf("%s%04x \r", text, v):   "12.5 g",
		fmt.Sprintf("%s+%03x", text, v>>4):  "reject",
		"+12":                               "reject",
		fmt.Sprintf("%s%04x", text, v^0x80): "reject",
	} {
		if got := feed(t, c, "\n"+line+"\n", 1); len(got) != 1 || show(got[0]) != want {
			t.Errorf("%q: got %v, want %s", line, got, want)
		}
	}
}

// The factors are those of NIST SP 811 Appendix B and NIST Handbook 44 Appendix C, in the table's own words.
func TestGramsAgainstTable(t *testing.T) {
	f, err := os.Open("../../testdata/reference/units.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rd := csv.NewReader(f)
	rd.Comment = '#'
	rows, err := rd.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	words := map[string]string{"pound, avoirdupois (lb)": "lb", "ounce, avoirdupois (oz)": "oz"}
	scale := map[string]float64{"kg": 1000, "g": 1}
	checked := 0
	for _, row := range rows {
		unit, ok := words[row[0]]
		if !ok {
			continue
		}
		checked++
		factor, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		const n = 1000 // so that the rounding to a microgram leaves all digits of the table
		if got, ok := Grams(n, unit); !ok || !(math.Abs(got-n*factor*scale[row[1]]) <= 1e-6) {
			t.Errorf("%d %s: got %v g, want %v", n, unit, got, n*factor*scale[row[1]])
		}
	}
	if checked != len(words) {
		t.Errorf("%d units found in the table, want %d", checked, len(words))
	}
	for _, c := range []struct {
		v    float64
		unit string
		want float64
	}{{12.345, "kg", 12345}, {-0.1, "g", -0.1}, {16, "lb-oz", 453.59237}, {1, "LB", 453.59237}} {
		if got, ok := Grams(c.v, c.unit); !ok || got != c.want {
			t.Errorf("%v %s: got %v, want %v g", c.v, c.unit, got, c.want)
		}
	}
	for _, w := range []string{"", "pcs", "%", "dB", "t"} {
		if got, ok := Grams(1, w); ok {
			t.Errorf("%q is taken for a unit of mass: %v g", w, got)
		}
	}
}
