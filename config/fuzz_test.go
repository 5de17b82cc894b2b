package config

import (
	"errors"
	"io/fs"
	"reflect"
	"strings"
	"testing"
)

// FuzzLab reads any bytes as bench.toml and units.toml. What reads prints back and reads the same;
// what does not read says where and why, one problem a line.
func FuzzLab(f *testing.F) {
	seed := func(lab fs.FS) {
		bench, _ := fs.ReadFile(lab, "bench.toml")
		units, _ := fs.ReadFile(lab, "units.toml")
		f.Add(bench, units)
	}
	seed(contractLab())
	for _, name := range wrongCases(f) {
		lab, _, _ := wrongLab(f, name)
		seed(lab)
	}
	f.Add([]byte("a.b.c = 1\n[a]\n"), []byte("unit = [{}, {id={}}]"))
	f.Add([]byte("\"\" = {\"\" = []}"), []byte("[[unit.unit]]\n[[unit]]"))
	f.Fuzz(func(t *testing.T, bench, units []byte) {
		lab := contractLab()
		lab["bench.toml"].Data, lab["units.toml"].Data = bench, units
		l, err := Read(lab)
		if err != nil {
			explainsItself(t, err)
			return
		}
		if err := Explain(&strings.Builder{}, l); err != nil {
			t.Fatal(err)
		}
		for _, u := range l.Units {
			s, err := l.Setup(u.ID, "mixed")
			if err != nil || s.Unit != u {
				t.Fatalf("unit %+v: %v", u, err)
			}
			again, err := ReadSetup("setup.toml", s.TOML())
			if err != nil || !reflect.DeepEqual(again, s) {
				t.Fatalf("%+v prints as\n%s\nwhich reads as %+v, %v", s, s.TOML(), again, err)
			}
		}
	})
}

// FuzzReadSetup reads any bytes as the settings of a session.
func FuzzReadSetup(f *testing.F) {
	for seed := range uint64(5) {
		f.Add(randomSetup(seed).TOML())
	}
	f.Add([]byte("[bench.detect]\nmotor.stall_ratio = 0.6\n[unit]\n[procedure]"))
	f.Add([]byte("\xff\xfe[\x00"))
	f.Add([]byte("[bench]\r[unit]\r"))
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := ReadSetup("setup.toml", b)
		if err != nil {
			explainsItself(t, err)
			return
		}
		if again, err := ReadSetup("setup.toml", s.TOML()); err != nil || !reflect.DeepEqual(again, s) {
			t.Fatalf("%+v prints as\n%s\nwhich reads as %+v, %v", s, s.TOML(), again, err)
		}
	})
}

func explainsItself(t *testing.T, err error) {
	t.Helper()
	var all Problems
	if !errors.As(err, &all) || len(all) == 0 {
		t.Fatalf("got %T %v, want Problems", err, err)
	}
	for _, p := range all {
		text := p.Error()
		// What is wrong with the whole text is told at its first line, and in no column.
		if p.File == "" || p.Found == "" || p.Want == "" || strings.ContainsAny(text, "\n\r") || p.Line > 1 && p.Column < 1 {
			t.Fatalf("%q, column %d", text, p.Column)
		}
	}
}
