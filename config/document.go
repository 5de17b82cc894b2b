package config

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"quern/rig"
)

// place is where something stands in a file, counted from 1.
type place struct{ line, column int }

// entry is one key of a document: a value, a table or an array of tables.
type entry struct {
	at     place
	value  any // string, float64, bool, or what else was found, as text in a foreign
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

// parse reads one TOML file into a table that knows where everything stands.
func parse(name string, b []byte) (*table, error) {
	// The library's own decoder finds what the grammar cannot: keys given twice and the like.
	var any map[string]any
	if err := toml.Unmarshal(b, &any); err != nil {
		e := &rig.FileError{File: name, Line: 1, Byte: -1, Found: strings.TrimPrefix(err.Error(), "toml: "), Want: "TOML", Err: err}
		var d *toml.DecodeError
		if errors.As(err, &d) {
			e.Line, e.Column = d.Position()
		}
		return nil, e
	}
	p := unstable.Parser{}
	p.Reset(b)
	root := newTable(place{1, 1})
	at := root
	where := func(n *unstable.Node) place {
		if n.Raw.Length == 0 {
			return place{}
		}
		s := p.Shape(n.Raw).Start
		return place{s.Line, s.Column}
	}
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
		return nil, &rig.FileError{File: name, Line: 1, Byte: -1, Found: err.Error(), Want: "TOML", Err: err}
	}
	return root, nil
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
		f, err := number(string(v.Data))
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
		e.value = foreign("a list")
	default:
		e.value = foreign(v.Data)
	}
}

func number(s string) (float64, error) {
	s = strings.ReplaceAll(s, "_", "")
	if i, err := strconv.ParseInt(s, 0, 64); err == nil {
		return float64(i), nil
	}
	return strconv.ParseFloat(s, 64)
}

// String returns a value as it would stand in a file.
func (e *entry) String() string {
	switch v := e.value.(type) {
	case nil:
		if len(e.tables) > 0 {
			return "an array of tables"
		}
		return "a table"
	case string:
		return strconv.Quote(v)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	default:
		return fmt.Sprint(v)
	}
}
