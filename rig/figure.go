package rig

import (
	"math"
	"strconv"
)

// Figure is the only form in which a measured number travels. The zero Figure means "absent",
// never 0. Its unit ends the name of the field that holds it.
type Figure struct {
	V   float64
	OK  bool
	Why string // code of the warning that says why it is absent
}

// Value returns the value and whether there is one that can be shown.
func (f Figure) Value() (v float64, ok bool) {
	return f.V, f.OK && !math.IsNaN(f.V) && !math.IsInf(f.V, 0)
}

// Fig returns a present figure; a value that is not finite is absent with the reason "not-finite".
func Fig(v float64) Figure {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Figure{Why: "not-finite"}
	}
	return Figure{V: v, OK: true}
}

// Absent returns a figure that could not be measured; why is the code of a warning.
func Absent(why string) Figure { return Figure{Why: why} }

// MarshalJSON writes the number rounded to 3 decimals (1 ms, 1 mA, 0.001 dB: finer than any of
// the instruments), or null.
func (f Figure) MarshalJSON() ([]byte, error) {
	if !f.OK {
		return []byte("null"), nil
	}
	v := math.Round(f.V*1000) / 1000
	if v == 0 {
		v = 0 // no negative zero
	}
	return strconv.AppendFloat(nil, v, 'f', -1, 64), nil
}

// UnmarshalJSON reads what MarshalJSON writes.
func (f *Figure) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*f = Figure{}
		return nil
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil {
		return err
	}
	*f = Fig(v)
	return nil
}
