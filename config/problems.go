package config

import (
	"cmp"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"quern/rig"
)

// Problems is everything that is wrong with a lab, in order of file and line.
type Problems []*rig.FileError

// Error lists the problems, one a line.
func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, e := range p {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap returns the problems one by one.
func (p Problems) Unwrap() []error {
	errs := make([]error, len(p))
	for i, e := range p {
		errs[i] = e
	}
	return errs
}

// sorted returns the problems of one file in the order of their places.
func (r *reader) sorted() Problems {
	slices.SortStableFunc(r.problems, func(a, b *rig.FileError) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return r.problems
}

// errUnknown marks a key that no setting has.
var errUnknown = errors.New("unknown key")

// First returns the first of several problems and says how many more there are, on one line. An unknown key of the
// same file goes before it: where a key is missing, that is how it was misspelt.
func First(lab string, err error) error {
	var all Problems
	if errors.As(err, &all) && len(all) > 1 {
		first := all[0]
		for _, p := range all {
			if p.File == first.File && errors.Is(p, errUnknown) {
				first = p
				break
			}
		}
		return fmt.Errorf("%w (and %d more: quern check %s)", first, len(all)-1, lab)
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
