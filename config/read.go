package config

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"reflect"
	"slices"
	"strings"

	"quern/rig"
)

// DefaultDetect returns the thresholds that are in force where a lab sets none.
func DefaultDetect() Detect { return defaults[Detect]() }

// DefaultBench returns the bench that is in force where bench.toml sets nothing.
func DefaultBench() Bench { return defaults[Bench]() }

// DefaultUnit returns a unit whose entry gives nothing but its id; its rated current is still to be set.
func DefaultUnit(id string) Unit {
	u := defaults[Unit]()
	u.ID = id
	return u
}

// DefaultProcedure returns a procedure whose file gives nothing but its id.
func DefaultProcedure(id string) Procedure {
	p := defaults[Procedure]()
	p.ID = id
	return p
}

func defaults[T any]() T {
	var v T
	newReader("", map[any]origin{}).fill(reflect.ValueOf(&v).Elem(), nil, "")
	return v
}

// Read reads a lab folder: bench.toml, units.toml, procedures/*.toml and scorecard.toml. A Lab that it
// returns is right; the error is a Problems that lists everything that is wrong.
func Read(fsys fs.FS) (*Lab, error) {
	if wrong := noLab(fsys); wrong != nil {
		return nil, Problems{wrong}
	}
	lab := &Lab{origins: map[any]origin{}}
	var all Problems
	all = append(all, lab.bench(fsys)...)
	all = append(all, lab.units(fsys)...)
	all = append(all, lab.procedures(fsys)...)
	all = append(all, lab.file(fsys, "scorecard.toml", "points and weights; the file may be empty", &lab.Scorecard, lab.checkScorecard)...)
	if len(all) == 0 {
		all = lab.across()
	}
	if len(all) > 0 {
		return nil, all
	}
	return lab, nil
}

// file reads one file into a struct; check, if any, sees what was read.
func (l *Lab) file(fsys fs.FS, name, what string, dst any, check func(*reader)) Problems {
	info, err := fs.Stat(fsys, name)
	if err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		err = errNoFile // reading it may wait for ever
	}
	var b []byte
	if err == nil {
		b, err = fs.ReadFile(fsys, name)
	}
	if err != nil {
		return Problems{unreadable(name, what, err)}
	}
	t, wrong := parse(name, b)
	if wrong != nil {
		return Problems{wrong}
	}
	r := newReader(name, l.origins)
	r.read(dst, t)
	if check != nil {
		check(r)
	}
	return r.sorted()
}

func (l *Lab) bench(fsys fs.FS) Problems {
	return l.file(fsys, "bench.toml", "the bench: supply, microphone, clamp, scale", &l.Bench, func(r *reader) { r.checkBench(&l.Bench) })
}

func (l *Lab) units(fsys fs.FS) Problems {
	var list unitList
	return l.file(fsys, "units.toml", "the units: a [[unit]] each", &list, func(r *reader) {
		l.Units = list.Units
		seen := known{}
		for i := range l.Units {
			r.checkUnit(&l.Units[i])
			r.once(seen, &l.Units[i].ID, "unit")
		}
	})
}

func (l *Lab) procedures(fsys fs.FS) Problems {
	names, err := fs.Glob(fsys, "procedures/*.toml")
	names = slices.DeleteFunc(names, func(name string) bool { return strings.HasPrefix(path.Base(name), ".") }) // hidden
	if err != nil || len(names) == 0 {
		return Problems{{File: "procedures", Byte: -1, Found: "no procedure", Want: "at least one file procedures/*.toml", Do: `add one with an id, such as id = "mixed"`, Err: err}}
	}
	slices.Sort(names)
	var all Problems
	seen := known{}
	l.Procedures = make([]Procedure, len(names))
	for i, name := range names {
		p := &l.Procedures[i]
		all = append(all, l.file(fsys, name, "a procedure", p, func(r *reader) {
			r.checkProcedure(p)
			r.own(seen, &p.ID, "procedure", name)
		})...)
	}
	return all
}

// noLab says once that a folder is missing, or holds nothing of a lab: four files that are not there are one mistake.
func noLab(fsys fs.FS) *rig.FileError {
	wrong := func(found string, err error) *rig.FileError {
		return &rig.FileError{File: ".", Byte: -1, Found: found, Want: "a lab folder, with " + labFiles, Do: labWriter, Err: err}
	}
	if info, err := fs.Stat(fsys, "."); err != nil {
		return wrong(rig.Closed(err), err)
	} else if !info.IsDir() {
		return wrong("a file", nil)
	}
	for _, name := range []string{"bench.toml", "units.toml", "procedures", "scorecard.toml"} {
		if _, err := fs.Stat(fsys, name); !errors.Is(err, fs.ErrNotExist) {
			return nil // a lab, whatever is wrong with it
		}
	}
	return wrong("a folder without any of a lab's files", fs.ErrNotExist)
}

const (
	labFiles  = "bench.toml, units.toml, procedures/*.toml and scorecard.toml"
	labWriter = "quern lab FOLDER writes one to begin with"
)

var errNoFile = errors.New("a device or pipe")

// unreadable is the error for a file that is missing or cannot be read.
func unreadable(name, what string, err error) *rig.FileError {
	e := &rig.FileError{File: name, Byte: -1, Found: rig.Closed(err), Want: what, Do: "a lab folder holds " + labFiles + "; " + labWriter, Err: err}
	if errors.Is(err, fs.ErrNotExist) {
		e.Found = "no such file"
	} else if errors.Is(err, errNoFile) {
		e.Found = err.Error()
	}
	return e
}

// checkBench checks thresholds that hang together.
func (r *reader) checkBench(b *Bench) {
	m := &b.Detect.Motor
	r.less(&m.StallLeaveRatio, &m.StallRatio, "the gap between the two keeps one stall from counting as many")
	r.less(&m.OverloadLeave, &m.OverloadRatio, "the gap between the two keeps one overload from counting as many")
	r.checkDevices(b)
	r.checkVessels(b)
}

// checkDevices checks what hangs together among devices and extra channels.
func (r *reader) checkDevices(b *Bench) {
	c := &b.Clamp.Device
	if o := r.origins[&c.Kind]; c.Kind == "sound-card" && b.Microphone.Device.Kind != "alsa" && !o.wrong {
		r.add(o.at, o.key+` = "sound-card"`, `microphone.device.kind = "alsa"`, "the clamp stands on the microphone's card: describe that in [microphone.device.alsa]")
	}
	if o := r.origins[&c.Form]; c.Kind == "iio" && c.Form == "rms" && !o.wrong {
		r.add(o.at, o.key+` = "rms"`, `"waveform" for a clamp of kind "iio"`, "the kernel's converters deliver samples; RMS is computed from them")
	}
	seen := map[string]bool{"microphone": true, "clamp": true, "scale": true, "anchor": true, "event": true, "mark": true, "weighing": true, "check": true, "correction": true, "shown": true, "clock": true}
	for i := range b.Extra {
		x := &b.Extra[i]
		if o := r.origins[&x.ID]; seen[x.ID] && !o.wrong {
			r.add(o.at, fmt.Sprintf("%s = %q", o.key, x.ID), "an id that nothing else in a session has", "choose another, such as water-temperature")
		}
		seen[x.ID] = true
	}
}

// checkUnit checks the nameplate against itself.
func (r *reader) checkUnit(u *Unit) {
	if u.LockedRotorA != 0 { // absent
		r.less(&u.RatedCurrentA, &u.LockedRotorA, "a held rotor draws 4 to 7 times the rated current (common practice): copy both from the nameplate")
	}
}

// Setup returns what is in force for one unit under one procedure, without the unit's public name and what is no matter
// of sessions. The error names what there is.
func (l *Lab) Setup(unitID, procedureID string) (Setup, error) {
	unit := slices.IndexFunc(l.Units, func(u Unit) bool { return u.ID == unitID })
	if unit < 0 {
		var ids []string
		for _, u := range l.Units {
			ids = append(ids, u.ID)
		}
		return Setup{}, missing("unit", "units.toml", unitID, ids)
	}
	procedure := slices.IndexFunc(l.Procedures, func(p Procedure) bool { return p.ID == procedureID })
	if procedure < 0 {
		var ids []string
		for _, p := range l.Procedures {
			ids = append(ids, p.ID)
		}
		return Setup{}, missing("procedure", "procedures", procedureID, ids)
	}
	set := Setup{Bench: l.Bench, Unit: l.Units[unit], Procedure: l.Procedures[procedure]}
	set.Unit.Name = "" // a session may be handed on before the release
	set.Bench.Pages = Pages{}
	return set, nil
}

func missing(what, file, id string, known []string) error {
	e := &rig.FileError{File: file, Byte: -1, Found: fmt.Sprintf("no %s %q", what, clip(id)), Want: "one of " + strings.Join(known, ", ")}
	if n := nearest(id, known); n != "" && !siblings(id, n) {
		e.Do = fmt.Sprintf("did you mean %s?", n)
	}
	return e
}

// siblings tells whether two codes differ in their last letter alone, as blind codes do: unit-q is not unit-a.
func siblings(a, b string) bool {
	return a != b && len(a) > 1 && len(a) == len(b) && a[:len(a)-1] == b[:len(b)-1]
}

// ReadSetup reads what Setup.TOML wrote, as strictly as Read; name stands in errors, which are
// Problems. Keys that are missing have their defaults, as a lab's have.
func ReadSetup(name string, b []byte) (Setup, error) {
	name = path.Clean(name)
	t, wrong := parse(name, b)
	if wrong != nil {
		return Setup{}, Problems{wrong}
	}
	var s Setup
	r := newReader(name, map[any]origin{})
	r.read(&s, t)
	r.checkBench(&s.Bench)
	r.checkUnit(&s.Unit)
	r.checkProcedure(&s.Procedure)
	if len(r.problems) > 0 {
		return Setup{}, r.sorted()
	}
	return s, nil
}
