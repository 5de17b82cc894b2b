package export

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"quern/rig"
	"quern/rig/score/gum"
)

// Type is what the cells of a column are.
type Type uint8

const (
	absentCell Type = iota // of a cell only
	Text
	Number  // a float, with so many decimals at most
	Whole   // a whole number
	Flag    // true or false
	Instant // UTC, to the millisecond: 2026-03-02T09:00:04.100Z
	Clock   // minutes, seconds and tenths, for reading: 2:01.2
)

// String returns the type's name in the table columns.
func (t Type) String() string {
	return [...]string{"absent", "text", "number", "whole number", "true or false", "instant", "m:ss.s"}[t]
}

// Column is one column of a table.
type Column struct {
	Name string // ends in its unit where it has one
	Unit string // "" for what has none
	Type Type
	What string // its meaning
	Key  bool   // the keys of a row together name it: tags of line protocol

	decimals int
	unitFrom int // 1 + the column that holds the unit of this one; 0: none does
}

// Table is one table.
type Table struct {
	Name    string
	What    string
	Series  bool // made from the recordings anew: long, and slow to write
	Columns []Column

	rows func(in *input, emit func([]Cell) error) error
}

// Cell is a value in a row; the zero Cell is absent.
type Cell struct {
	kind Type
	f    float64
	n    int64 // Whole; Flag: 0 or 1; Instant: ns since 1970
	s    string
}

func (c Cell) fits(k Column) bool { return c.kind == absentCell || c.kind == k.Type }

func text[T ~string](s T) Cell {
	if s == "" {
		return Cell{}
	}
	return Cell{kind: Text, s: clean(string(s))}
}

// clean makes UTF-8 of a text, and no cell ends at a NUL.
func clean(s string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD")
}

func whole(n int) Cell { return Cell{kind: Whole, n: int64(n)} }

// counted is a number that counts from 1: 0 is absent.
func counted(n int) Cell {
	if n == 0 {
		return Cell{}
	}
	return whole(n)
}

func yes(v bool) Cell {
	c := Cell{kind: Flag}
	if v {
		c.n = 1
	}
	return c
}

func number(v float64) Cell {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Cell{}
	}
	return Cell{kind: Number, f: v}
}

func figure(f rig.Figure) Cell {
	if !f.OK {
		return Cell{}
	}
	return number(f.V)
}

// some is a setting that is 0 where it is not given.
func some(v float64) Cell {
	if v == 0 {
		return Cell{}
	}
	return number(v)
}

// clock tells a time as minutes, seconds and tenths.
func clock(f rig.Figure) Cell {
	if !f.OK {
		return Cell{}
	}
	tenths, sign := int64(math.Round(math.Abs(f.V)*10)), ""
	if f.V < 0 && tenths > 0 {
		sign = "-"
	}
	return Cell{kind: Clock, s: fmt.Sprintf("%s%d:%02d.%d", sign, tenths/600, tenths/10%60, tenths%10)}
}

// rounded is the number as it is told: with the decimals of its column at most, and no negative zero.
func (c Cell) rounded(k Column) float64 {
	p := math.Pow10(k.decimals)
	v := math.Round(c.f*p) / p
	switch {
	case v == 0:
		return 0
	case math.IsInf(v, 0): // too large to have decimals
		return c.f
	}
	return v
}

const instantForm = "2006-01-02T15:04:05.000Z"

// append writes the cell as plain text: what CSV holds before quoting, and JSON inside quotes.
func (c Cell) append(b []byte, k Column) []byte {
	switch c.kind {
	case Text, Clock:
		return append(b, c.s...)
	case Number:
		return strconv.AppendFloat(b, c.rounded(k), 'f', -1, 64)
	case Whole:
		return strconv.AppendInt(b, c.n, 10)
	case Flag:
		return strconv.AppendBool(b, c.n != 0)
	case Instant:
		return time.Unix(0, c.n).UTC().AppendFormat(b, instantForm)
	}
	return b
}

// Short hands for lists of columns.
func word(name, what string) Column { return Column{Name: name, Type: Text, What: what} }
func num(name, unit string, decimals int, what string) Column {
	return Column{Name: name, Unit: unit, Type: Number, decimals: decimals, What: what}
}
func count(name, what string) Column   { return Column{Name: name, Type: Whole, What: what} }
func yesno(name, what string) Column   { return Column{Name: name, Type: Flag, What: what} }
func isKey(c Column) Column            { c.Key = true; return c }
func minutes(name, what string) Column { return Column{Name: name, Type: Clock, What: what} }

var (
	sessionColumn   = isKey(word("session", "name of the session"))
	runColumn       = isKey(count("run", "number of the run in its session, from 1"))
	unitColumn      = isKey(word("unit", "blind code of the appliance, after corrections"))
	procedureColumn = word("procedure", "id of the procedure, after corrections")
	shownColumn     = word("shown", "what the unit may be called on the day of the export: its blind code before its release")
	utcColumn       = Column{Name: "utc", Type: Instant, What: "the instant by the bench's clock, a label"}
	whoColumn       = word("who", "who put it on record")
	factColumn      = isKey(count("fact", "its number in the session; corrections name it"))
)

// massColumn is a mass told in a further unit.
type massColumn struct {
	from int
	unit string
	if_  int // 1 + the column that must say g; 0: none
}

func (m massColumn) of(cells []Cell) Cell {
	c := cells[m.from]
	if c.kind != Number || m.if_ > 0 && cells[m.if_-1].s != string(rig.Gram) {
		return Cell{}
	}
	v, err := gum.FromGrams(c.f, m.unit)
	if err != nil { // too large for any bench
		return Cell{}
	}
	return number(v)
}

// withMass returns the table with its masses once more, in another unit, at its end.
func (t Table) withMass(unit string) (Table, []massColumn) {
	if unit == "" || unit == string(rig.Gram) {
		return t, nil
	}
	var out []massColumn
	columns := append([]Column{}, t.Columns...)
	for i, c := range t.Columns {
		if c.Type != Number || c.Unit != string(rig.Gram) && c.unitFrom == 0 {
			continue
		}
		out = append(out, massColumn{i, unit, c.unitFrom})
		k := num(strings.TrimSuffix(c.Name, "_g")+"_"+unit, unit, 5, c.Name+" in "+unit+", for reading")
		if c.unitFrom > 0 {
			k.What += "; of a mass only"
		}
		columns = append(columns, k)
	}
	t.Columns = columns
	return t, out
}
