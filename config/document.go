package config

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"quern/rig"
)

// place is where something stands in a file, counted from 1.
type place struct{ line, column int }

// entry is one key of a document: a value, a table or an array of tables.
type entry struct {
	at     place
	value  any    // string, float64, bool, or what else was found, as text in a foreign
	raw    string // a number as it was written
	table  *table
	tables []*table
}

// foreign is a value of a type that no setting has, as it was written.
type foreign string

// table is a TOML table with the places of its keys.
type table struct {
	at   place
	keys map[string]*entry
	// order holds the keys as they were written.
	order []string
}

func newTable(at place) *table { return &table{at: at, keys: map[string]*entry{}} }

// longest is how many bytes a file of settings may have; a lab of a thousand units has a fifth of it.
const longest = 1 << 20

// parse reads one TOML file into a table that knows where everything stands.
func parse(name string, b []byte) (*table, *rig.FileError) {
	if len(b) > longest {
		return nil, &rig.FileError{File: name, Byte: longest, Found: fmt.Sprintf("%d bytes", len(b)), Want: fmt.Sprintf("at most %d of TOML", longest), Do: "is it another file by mistake?"}
	}
	if wrong := written(name, b); wrong != nil {
		return nil, wrong
	}
	b = bytes.TrimPrefix(b, []byte("\uFEFF")) // some editors put it before the text
	// The library's own decoder finds what the grammar cannot: keys given twice and the like.
	var whole map[string]any
	if err := toml.Unmarshal(b, &whole); err != nil {
		return nil, misspelt(name, err)
	}
	p := unstable.Parser{}
	p.Reset(b)
	root := newTable(place{1, 1})
	at := root
	where := index(b)
	for p.NextExpression() {
		n := p.Expression()
		switch n.Kind {
		case unstable.Table:
			at = root.down(n.Key(), where, false)
		case unstable.ArrayTable:
			at = root.down(n.Key(), where, true)
		case unstable.KeyValue:
			at.put(n, where)
		}
	}
	if err := p.Error(); err != nil {
		return nil, misspelt(name, err)
	}
	return root, nil
}

// written refuses a text in a form that the grammar would only call misspelt.
func written(name string, b []byte) *rig.FileError {
	e := &rig.FileError{File: name, Line: 1, Byte: -1}
	switch {
	case bytes.HasPrefix(b, []byte("\xff\xfe")), bytes.HasPrefix(b, []byte("\xfe\xff")), bytes.IndexByte(b[:min(2, len(b))], 0) >= 0:
		e.Found, e.Want, e.Do = "text in UTF-16", "text in UTF-8", "save the file as UTF-8"
	case bytes.IndexByte(b, '\r') >= 0 && bytes.IndexByte(b, '\n') < 0 && bytes.IndexByte(bytes.TrimRight(b, "\r"), '\r') >= 0:
		e.Found, e.Want, e.Do = "lines that end in a carriage return only", "lines that end in a line feed", "save the file with common line ends"
	default:
		return nil
	}
	return e
}

// misspelt is the error for a file that is no TOML.
func misspelt(name string, err error) *rig.FileError {
	found, _, _ := strings.Cut(strings.TrimPrefix(err.Error(), "toml: "), "\n")
	found = strings.ReplaceAll(found, "strconv.ParseFloat: parsing ", "")
	e := &rig.FileError{File: name, Line: 1, Byte: -1, Found: "what is no TOML (" + found + ")", Want: "lines such as key = value or [table]", Err: err}
	switch _, after, _ := strings.Cut(found, "expected newline but got"); {
	case strings.Contains(found, "','"):
		e.Do = "if it is a number, write it with a point"
	case strings.Contains(found, "at start of value"):
		e.Do = "if it is a word, put it in quotes"
	case strings.ContainsFunc(strings.TrimLeft(after, " U+0123456789ABCDEF"), unicode.IsLetter):
		e.Do = "write a number alone: its unit stands in the key's name"
	}
	var d *toml.DecodeError
	if errors.As(err, &d) {
		e.Line, e.Column = d.Position()
	}
	return e
}

// index returns a function that tells in which line and column a node begins. The library's own
// counts from the file's start for every node: too slow for a large file.
func index(b []byte) locate {
	starts := []int{0}
	for i, c := range b {
		if c == '\n' {
			starts = append(starts, i+1)
		}
	}
	return func(n *unstable.Node) place {
		if n.Raw.Length == 0 {
			return place{}
		}
		offset := int(n.Raw.Offset)
		line, found := slices.BinarySearch(starts, offset)
		if !found {
			line--
		}
		return place{line + 1, offset - starts[line] + 1}
	}
}

type locate func(*unstable.Node) place

// down follows the parts of a header from the root; the last one opens a table, or one more of an
// array of tables.
func (t *table) down(key unstable.Iterator, where locate, array bool) *table {
	at := t
	for key.Next() {
		n := key.Node()
		e := at.entry(string(n.Data), where(n))
		if array && key.IsLast() {
			e.tables = append(e.tables, newTable(where(n)))
		}
		switch {
		case len(e.tables) > 0:
			at = e.tables[len(e.tables)-1]
		case e.table == nil:
			e.table = newTable(where(n))
			fallthrough
		default:
			at = e.table
		}
	}
	return at
}

func (t *table) entry(name string, at place) *entry {
	e := t.keys[name]
	if e == nil {
		e = &entry{at: at}
		t.keys[name] = e
		t.order = append(t.order, name)
	}
	return e
}

func (t *table) put(kv *unstable.Node, where locate) {
	at := t
	key := kv.Key()
	for key.Next() {
		n := key.Node()
		e := at.entry(string(n.Data), where(n))
		if !key.IsLast() {
			if e.table == nil {
				e.table = newTable(where(n))
			}
			at = e.table
			continue
		}
		e.set(kv.Value(), where)
	}
}

func (e *entry) set(v *unstable.Node, where locate) {
	switch v.Kind {
	case unstable.String:
		e.value = string(v.Data)
	case unstable.Bool:
		e.value = string(v.Data) == "true"
	case unstable.Integer, unstable.Float:
		e.raw = string(v.Data)
		f, err := number(e.raw)
		if err != nil {
			e.value = foreign(v.Data)
			return
		}
		e.value = f
	case unstable.InlineTable:
		e.table = newTable(e.at)
		for c := v.Children(); c.Next(); {
			e.table.put(c.Node(), where)
		}
	case unstable.Array:
		e.list(v, where)
	default:
		e.value = foreign(v.Data)
	}
}

// list takes a list of inline tables as an array of tables; no setting is a list of anything else.
func (e *entry) list(v *unstable.Node, where locate) {
	for c := v.Children(); c.Next(); {
		n := c.Node()
		if n.Kind == unstable.Comment {
			continue
		}
		if n.Kind != unstable.InlineTable {
			e.value, e.tables = foreign("a list"), nil
			return
		}
		t := newTable(e.at)
		for k := n.Children(); k.Next(); {
			t.put(k.Node(), where)
		}
		e.tables = append(e.tables, t)
	}
	if len(e.tables) == 0 {
		e.value = foreign("an empty list")
	}
}

func number(s string) (float64, error) {
	s = strings.ReplaceAll(s, "_", "")
	if i, err := strconv.ParseInt(s, 0, 64); err == nil {
		return float64(i), nil
	}
	return strconv.ParseFloat(s, 64)
}

// String returns a value as it stands in the file.
func (e *entry) String() string {
	switch v := e.value.(type) {
	case nil:
		if len(e.tables) > 0 {
			return "an array of tables"
		}
		return "a table"
	case string:
		return strconv.Quote(clip(v))
	case float64:
		return clip(e.raw)
	default:
		return clip(fmt.Sprint(v))
	}
}

// clip shortens what is quoted in a message: a file may hold anything.
func clip(s string) string {
	const most = 60
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most]) + "..."
	}
	return s
}
