package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A lab that 'quern lab' wrote is explained by 'quern check', and is never written over.
func TestLab(t *testing.T) {
	d := filepath.Join(t.TempDir(), "my-lab")
	if got := done(t, "lab", d); !strings.Contains(got, "4 invented units") || !strings.Contains(got, "quern check "+d) {
		t.Errorf("got %q", got)
	}
	if got := done(t, "check", d); !strings.Contains(got, "unit-b") || !strings.Contains(got, "Procedure mixed") {
		t.Errorf("check says %q", got)
	}
	before, err := os.ReadFile(filepath.Join(d, "units.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if got := quern(t, "lab", d, "--units", "3"); got.status != 2 || !strings.Contains(got.err, "exists and is not empty: choose another name") {
		t.Errorf("over a lab: %+v", got)
	}
	if after, _ := os.ReadFile(filepath.Join(d, "units.toml")); string(after) != string(before) {
		t.Error("it was written over")
	}
	empty := t.TempDir()
	done(t, "lab", empty, "--units", "26")
	done(t, "check", empty)
	for _, c := range []struct{ args, want string }{
		{"lab " + d + "x --units 0", "found --units 0, expected 1 to 26"},
		{"lab " + d + "x --units 27", "found --units 27, expected 1 to 26"},
		{"lab " + filepath.Join(d, "units.toml"), "expected a new folder"},
		{"lab " + filepath.Join(d, "none", "deep"), "nothing of that name"},
		{"lab", "found no argument, expected 1 argument"},
	} {
		if got := quern(t, strings.Fields(c.args)...); got.status != 2 || !strings.Contains(got.err, c.want) {
			t.Errorf("%s: got %+v, want %q", c.args, got, c.want)
		}
	}
	if _, err := os.Stat(d + "x"); err == nil {
		t.Error("a lab that was refused was written")
	}
}
