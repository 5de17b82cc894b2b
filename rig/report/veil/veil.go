// Package veil keeps names out of what is published: public names that are not released, and, where what is published is
// masked, whatever names other units.
//
// People write such names into remarks and reasons, and name sessions and footage after units. So a veil goes over every
// text, not only over the places where names belong.
package veil

import (
	"html/template"
	"reflect"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"quern/config"
)

// Veil is what may not be said of the units of a lab on a day. The zero Veil hides nothing.
type Veil struct {
	own    []*regexp.Regexp // stays, wherever it stands: what may be said
	hidden []hidden
}

type hidden struct {
	find *regexp.Regexp
	with string
}

// separators are what may stand between the words of a name: in a file's name other ones than in a title.
const separators = `[\s_.\-]*`

// New returns the veil of a day, such as 2026-12-01, over what is said of a unit, id, or of all (""). masked: of no other
// unit even the code is said.
func New(lab *config.Lab, day, id string, masked bool) Veil {
	var v Veil
	for i := range lab.Units {
		u := &lab.Units[i]
		other := masked && u.ID != id
		if u.ID == id {
			v.own = append(v.own, regexp.MustCompile("(?i)"+regexp.QuoteMeta(u.ID)))
		}
		with := u.ID
		if other {
			with = "another unit"
			if telling(u.ID) {
				v.hidden = append(v.hidden, hidden{regexp.MustCompile("(?i)" + regexp.QuoteMeta(u.ID)), with})
			}
		}
		if u.Released(day) && !other { // it may hold another's name
			v.own = append(v.own, regexp.MustCompile("(?i)"+regexp.QuoteMeta(u.Name)))
		} else {
			if find := nameOf(u.Name); find != nil {
				v.hidden = append(v.hidden, hidden{find, with})
			}
		}
	}
	return v
}

// telling says whether a code is more than one or two letters, which are found in every text.
func telling(id string) bool {
	return utf8.RuneCountInString(id) > 2 || strings.ContainsFunc(id, unicode.IsDigit)
}

// nameOf finds a name however its words are joined; nil: there is nothing to find. A name of one or two
// letters cannot be told from the text around it.
func nameOf(name string) *regexp.Regexp {
	words := strings.FieldsFunc(name, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune("_.-", r) })
	for i, w := range words {
		words[i] = regexp.QuoteMeta(w)
	}
	if utf8.RuneCountInString(strings.Join(words, "")) < 3 {
		return nil
	}
	return regexp.MustCompile("(?i)" + strings.Join(words, separators))
}

// Text returns a text without what is hidden: the blind code stands for a name.
func (v Veil) Text(s string) string {
	for _, h := range v.hidden {
		var own [][]int
		var b strings.Builder
		last := 0
		for _, m := range h.find.FindAllStringIndex(s, -1) {
			if own == nil {
				own = [][]int{}
				for _, o := range v.own {
					own = append(own, o.FindAllStringIndex(s, -1)...)
				}
			}
			if !whole(s, m[0], m[1]) || touches(m, own) {
				continue
			}
			b.WriteString(s[last:m[0]] + h.with)
			last = m[1]
		}
		if last > 0 {
			s = b.String() + s[last:]
		}
	}
	return s
}

// whole tells whether no letter goes on before or after a stretch of text.
func whole(s string, from, to int) bool {
	before, _ := utf8.DecodeLastRuneInString(s[:from])
	after, _ := utf8.DecodeRuneInString(s[to:])
	first, _ := utf8.DecodeRuneInString(s[from:])
	end, _ := utf8.DecodeLastRuneInString(s[:to])
	return !(unicode.IsLetter(before) && unicode.IsLetter(first)) && !(unicode.IsLetter(end) && unicode.IsLetter(after)) &&
		!(unicode.IsDigit(end) && unicode.IsDigit(after))
}

func touches(m []int, all [][]int) bool {
	for _, o := range all {
		if m[0] < o[1] && o[0] < m[1] {
			return true
		}
	}
	return false
}

// Over goes over everything that a pointer leads to and that a page or a plot could show. HTML that was made
// here has been gone over before it was made.
func (v Veil) Over(x any) {
	if len(v.hidden) > 0 {
		v.walk(reflect.ValueOf(x), 0)
	}
}

func (v Veil) walk(x reflect.Value, depth int) {
	if depth > 24 {
		return
	}
	switch x.Kind() {
	case reflect.Pointer:
		if !x.IsNil() {
			v.walk(x.Elem(), depth+1)
		}
	case reflect.Interface: // what it holds cannot be set in its place
		if !x.IsNil() {
			in := reflect.New(x.Elem().Type()).Elem()
			in.Set(x.Elem())
			v.walk(in, depth+1)
			if x.CanSet() {
				x.Set(in)
			}
		}
	case reflect.Struct:
		for i := range x.NumField() {
			if x.Type().Field(i).IsExported() {
				v.walk(x.Field(i), depth+1)
			}
		}
	case reflect.Slice, reflect.Array:
		if k := x.Type().Elem().Kind(); k == reflect.Float64 || k == reflect.Float32 || k == reflect.Uint8 {
			return
		}
		for i := range x.Len() {
			v.walk(x.Index(i), depth+1)
		}
	case reflect.String:
		if x.Type() == reflect.TypeFor[template.HTML]() {
			return
		}
		if s := x.String(); x.CanSet() {
			if t := v.Text(s); t != s {
				x.SetString(t)
			}
		}
	}
}
