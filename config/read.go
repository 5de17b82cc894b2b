package config

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"quern/rig"
)

// DefaultDetect returns the thresholds that are in force where a lab sets none.
func DefaultDetect() Detect { return defaults[Detect]() }

// DefaultBench returns the bench that is in force where bench.toml sets nothing.
func DefaultBench() Bench { return defaults[Bench]() }

func defaults[T any]() T {
	var v T
	(&reader{}).fill(reflect.ValueOf(&v).Elem(), nil, "")
	return v
}

// Read reads a lab folder: bench.toml, units.toml, procedures/*.toml and scorecard.toml. A Lab that it
// returns is right; the error is a Problems that lists everything that is wrong.
func Read(fsys fs.FS) (*Lab, error) {
	lab := &Lab{given: map[any]place{}, files: map[any]string{}}
	var all Problems
	one := func(name, why string, into func(*reader, *table)) {
		b, err := fs.ReadFile(fsys, name)
		if err != nil {
			all = append(all, unreadable(name, why, err))
			return
		}
		t, err := parse(name, b)
		if err != nil {
			var fe *rig.FileError
			errors.As(err, &fe)
			all = append(all, fe)
			return
		}
		r := &reader{file: name, given: lab.given}
		into(r, t)
		all = append(all, r.problems...)
	}
	one("bench.toml", "the bench: supply, microphone, clamp, scale", func(r *reader, t *table) {
		r.fill(reflect.ValueOf(&lab.Bench).Elem(), t, "")
		r.crossBench(&lab.Bench, t)
	})
	one("units.toml", "the units: a [[unit]] each", func(r *reader, t *table) { r.units(lab, t) })
	names, _ := fs.Glob(fsys, "procedures/*.toml")
	if len(names) == 0 {
		all = append(all, &rig.FileError{File: "procedures", Byte: -1, Found: "no procedure", Want: "at least one file procedures/*.toml", Do: `add one with an id, such as id = "mixed"`})
	}
	slices.Sort(names)
	lab.Procedures = make([]Procedure, len(names))
	for i, name := range names {
		one(name, "a procedure", func(r *reader, t *table) {
			p := &lab.Procedures[i]
			r.fill(reflect.ValueOf(p).Elem(), t, "")
			r.id(p.ID, t, "id")
			lab.files[p] = name
			for j := range i {
				if p.ID != "" && lab.Procedures[j].ID == p.ID {
					r.add(t.where("id"), fmt.Sprintf("id = %q, as in %s", p.ID, names[j]), "an id of its own", "")
				}
			}
		})
	}
	one("scorecard.toml", "the scorecard; it may be empty", func(r *reader, t *table) {
		r.fill(reflect.ValueOf(&lab.Scorecard).Elem(), t, "")
	})
	if len(all) > 0 {
		return nil, all
	}
	return lab, nil
}

func unreadable(name, what string, err error) *rig.FileError {
	e := &rig.FileError{File: name, Byte: -1, Found: "nothing that could be read", Want: what, Do: "a lab folder holds bench.toml, units.toml, procedures/*.toml and scorecard.toml", Err: err}
	if errors.Is(err, fs.ErrNotExist) {
		e.Found = "no such file"
	}
	return e
}

func (t *table) where(key string) place {
	if e := t.keys[key]; e != nil {
		return e.at
	}
	return t.at
}

var idForm = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,62}$`)

func (r *reader) id(id string, t *table, key string) {
	if t.keys[key] != nil && !idForm.MatchString(id) {
		r.add(t.where(key), fmt.Sprintf("%s = %q", key, id), "small letters, digits and hyphens, such as unit-a", "")
	}
}

func (r *reader) units(lab *Lab, t *table) {
	for _, name := range t.order {
		if name != "unit" {
			r.add(t.keys[name].at, fmt.Sprintf("unknown key %q at the top of this file", name), "[[unit]]", "")
		}
	}
	e := t.keys["unit"]
	if e == nil || len(e.tables) == 0 {
		at := place{1, 1}
		if e != nil {
			at = e.at
		}
		r.add(at, "no [[unit]]", "at least one unit", "add [[unit]] with id and rated_current_a")
		return
	}
	lab.Units = make([]Unit, len(e.tables))
	for i, ut := range e.tables {
		u := &lab.Units[i]
		r.fill(reflect.ValueOf(u).Elem(), ut, "unit")
		r.id(u.ID, ut, "id")
		r.crossUnit(u, ut)
		for j := range i {
			if u.ID != "" && lab.Units[j].ID == u.ID {
				r.add(ut.where("id"), fmt.Sprintf("id = %q a second time", u.ID), "an id of its own for every unit", "")
			}
		}
	}
}

func (r *reader) crossUnit(u *Unit, t *table) {
	if u.LockedRotorA > 0 && u.LockedRotorA <= u.RatedCurrentA {
		r.add(t.where("locked_rotor_a"), fmt.Sprintf("locked_rotor_a = %g with rated_current_a = %g", u.LockedRotorA, u.RatedCurrentA),
			"more than the rated current (4 to 7 times it is usual)", "copy both from the nameplate")
	}
}

// crossBench checks thresholds that hang together.
func (r *reader) crossBench(b *Bench, t *table) {
	d := b.Detect.Motor
	at := func(key string) place {
		where := t
		for _, name := range []string{"detect", "motor"} {
			if e := where.keys[name]; e != nil && e.table != nil {
				where = e.table
			}
		}
		return where.where(key)
	}
	if d.StallLeaveRatio >= d.StallRatio {
		r.add(at("stall_leave_ratio"), fmt.Sprintf("detect.motor.stall_leave_ratio = %g", d.StallLeaveRatio), fmt.Sprintf("less than stall_ratio = %g", d.StallRatio), "")
	}
	if d.OverloadLeave >= d.OverloadRatio {
		r.add(at("overload_leave_ratio"), fmt.Sprintf("detect.motor.overload_leave_ratio = %g", d.OverloadLeave), fmt.Sprintf("less than overload_ratio = %g", d.OverloadRatio), "")
	}
}

// Setup returns what is in force for one unit under one procedure. The error names what there is.
func (l *Lab) Setup(unitID, procedureID string) (Setup, error) {
	s := Setup{Bench: l.Bench}
	var units, procedures []string
	found := 0
	for _, u := range l.Units {
		units = append(units, u.ID)
		if u.ID == unitID {
			s.Unit = u
			found++
		}
	}
	if found == 0 {
		return Setup{}, missing("unit", "units.toml", unitID, units)
	}
	for _, p := range l.Procedures {
		procedures = append(procedures, p.ID)
		if p.ID == procedureID {
			s.Procedure = p
			found++
		}
	}
	if found == 1 {
		return Setup{}, missing("procedure", "procedures", procedureID, procedures)
	}
	return s, nil
}

func missing(what, file, id string, known []string) error {
	e := &rig.FileError{File: file, Byte: -1, Found: fmt.Sprintf("no %s %q", what, id), Want: "one of " + strings.Join(known, ", ")}
	if n := nearest(id, known); n != "" {
		e.Do = fmt.Sprintf("did you mean %s?", n)
	}
	return e
}

// ReadSetup reads what Setup.TOML wrote.
func ReadSetup(name string, b []byte) (Setup, error) {
	t, err := parse(name, b)
	if err != nil {
		return Setup{}, err
	}
	var s Setup
	r := &reader{file: path.Clean(name)}
	r.fill(reflect.ValueOf(&s).Elem(), t, "")
	if len(r.problems) > 0 {
		return Setup{}, r.problems
	}
	return s, nil
}

// First returns the first of several problems and says how many more there are, on one line.
func First(lab string, err error) error {
	var all Problems
	if errors.As(err, &all) && len(all) > 1 {
		return fmt.Errorf("%w (and %d more: quern check %s)", all[0], len(all)-1, lab)
	}
	return err
}

// In puts the lab's folder before the names of the files that an error of Read or Setup tells of.
func In(dir string, err error) error {
	var all Problems
	var one *rig.FileError
	switch {
	case errors.As(err, &all):
		for _, e := range all {
			e.File = path.Join(dir, e.File)
		}
	case errors.As(err, &one):
		one.File = path.Join(dir, one.File)
	}
	return err
}
