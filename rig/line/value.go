package line

import "math"

// Kind is the type of a field's value.
type Kind uint8

const (
	None Kind = iota // no value: the zero Value
	Float
	Int
	Uint
	Bool
	String
)

// Value is one field value. Values compare with ==; floats then compare bit for bit.
type Value struct {
	kind Kind
	bits uint64
	text string
}

// FloatValue holds a float64. NaN and infinities cannot be written: Append refuses them.
func FloatValue(v float64) Value { return Value{kind: Float, bits: math.Float64bits(v)} }

// IntValue holds a signed integer.
func IntValue(v int64) Value { return Value{kind: Int, bits: uint64(v)} }

// UintValue holds an unsigned integer.
func UintValue(v uint64) Value { return Value{kind: Uint, bits: v} }

// BoolValue holds a yes or a no.
func BoolValue(v bool) Value {
	if v {
		return Value{kind: Bool, bits: 1}
	}
	return Value{kind: Bool}
}

// StringValue holds a text.
func StringValue(v string) Value { return Value{kind: String, text: v} }

// Kind tells the type.
func (v Value) Kind() Kind { return v.kind }

// Float returns the number and true if v is a float.
func (v Value) Float() (float64, bool) { return math.Float64frombits(v.bits), v.kind == Float }

// Int returns the number and true if v is a signed integer.
func (v Value) Int() (int64, bool) { return int64(v.bits), v.kind == Int }

// Uint returns the number and true if v is an unsigned integer.
func (v Value) Uint() (uint64, bool) { return v.bits, v.kind == Uint }

// Bool returns the truth value, and true if v is one.
func (v Value) Bool() (value, ok bool) { return v.bits == 1, v.kind == Bool }

// Text returns the text and true if v is a string.
func (v Value) Text() (string, bool) { return v.text, v.kind == String }
