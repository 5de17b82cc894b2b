// Package line writes and reads points as line protocol, the plain text form that time series
// engines take in:
//
//	scale,bench=bench-1,unit=unit-a mass_g=812.5,stable=true,t_s=4.25 1700000004250000000
//
// It is stricter than the grammar where engines differ: no control characters anywhere, no names
// that begin with an underscore, no key twice, numbers in decimal only. What it writes every engine
// reads alike, and what it reads it writes back as the same point.
package line

// Point is one line: what was measured, where it belongs, the values, and when.
type Point struct {
	Measurement string
	Tags        []Tag   // ascending by key, no key twice
	Fields      []Field // at least one, no key twice, in the order of the line
	Time        int64   // ns since 1970-01-01T00:00:00Z; meaningful if Timed
	Timed       bool    // false: the line carries no time
}

// Tag is a label. Neither half may be empty.
type Tag struct{ Key, Value string }

// Field is a named value.
type Field struct {
	Key   string
	Value Value
}

// Tag returns the value of the tag key, or "" if there is none.
func (p *Point) Tag(key string) string {
	for _, t := range p.Tags {
		if t.Key == key {
			return t.Value
		}
	}
	return ""
}

// Field returns the value of the field key, or the zero Value if there is none.
func (p *Point) Field(key string) Value {
	for _, f := range p.Fields {
		if f.Key == key {
			return f.Value
		}
	}
	return Value{}
}
