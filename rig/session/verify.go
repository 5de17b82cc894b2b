package session

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"

	"quern/rig"
)

// Verify compares every byte of a sealed session with what was sealed, checks the chain of its
// addenda batch by batch, and its stored analyses each by itself. It returns what is wrong: nothing
// if all is well. A session that is not sealed is itself a problem. The error is for what is no
// session at all. Whole batches cut off the end of the addenda show only in Session.Chain.
func Verify(dir string) ([]*rig.FileError, error) {
	name := within(dir, manifestName)
	m, text, err := manifestText(dir)
	if err != nil {
		return nil, err
	}
	if m.State != Sealed {
		p := differs(name, "a session that is not sealed", "a sealed one")
		p.Do = "recover and seal it first"
		return []*rig.FileError{p}, nil
	}
	var out []*rig.FileError
	if own, err := m.encode(); err != nil || !m.proves() || string(own) != string(text) {
		out = append(out, differs(name, "a manifest that was changed", "the one that was sealed"))
	}
	present, err := list(dir)
	if err != nil {
		return nil, unreadable(dir, err, "a session folder")
	}
	for _, want := range m.Files {
		present = without(present, want.Path)
		out = append(out, compare(dir, want, "the one that was sealed")...)
	}
	problems, present := verifyAddenda(dir, m, present)
	out = append(out, problems...)
	for _, path := range present {
		if key, ok := analysisKey(path); ok {
			if _, err := readAnalysis(dir, key); err != nil {
				out = append(out, spoken(within(dir, path), err))
			}
			continue
		}
		p := differs(within(dir, path), "a file that was not sealed", "no file")
		p.Do = "move it elsewhere"
		out = append(out, p)
	}
	return out, nil
}

// verifyAddenda checks the addenda and the ends that were set aside. It returns the files of the
// session without those.
func verifyAddenda(dir string, m Manifest, present []string) (out []*rig.FileError, rest []string) {
	present = without(present, addendaName)
	a, err := loadAddenda(dir, m, lastFact(dir, m))
	if err == nil {
		err = a.sense
	}
	if err != nil {
		out = append(out, spoken(within(dir, addendaName), err))
	}
	if a.fault != nil {
		if a.torn {
			a.fault.Do = "add to the session, or take up amending it: that sets the end aside"
		}
		out = append(out, a.fault)
	}
	for _, want := range a.asides {
		present = without(present, want.Path)
		out = append(out, compare(dir, want, "the end of the addenda that was set aside")...)
	}
	return out, present
}

// lastFact returns the number of the last fact of the journal. Faults of the journal show elsewhere.
func lastFact(dir string, m Manifest) int {
	j, err := (&Session{dir: dir, manifest: m}).openJournal()
	if err != nil {
		return 0
	}
	defer j.Close()
	var c collector
	_ = c.collect(j, nil)
	return c.last
}

// compare compares a file with what it was.
func compare(dir string, want FileEntry, was string) []*rig.FileError {
	got, err := fileEntry(dir, want.Path)
	at := within(dir, want.Path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return []*rig.FileError{differs(at, "no file", was)}
	case err != nil:
		return []*rig.FileError{differs(at, "a file that cannot be read ("+rig.Reason(err)+")", was)}
	case got != want:
		return []*rig.FileError{differs(at, "SHA-256 "+got.SHA256, "SHA-256 "+want.SHA256)}
	}
	return nil
}

func differs(file, found, want string) *rig.FileError {
	return &rig.FileError{File: file, Byte: -1, Found: found, Want: want, Do: "restore it from a copy"}
}

// spoken returns an error as one of a file.
func spoken(file string, err error) *rig.FileError {
	var p *rig.FileError
	if errors.As(err, &p) {
		return p
	}
	p = differs(file, fmt.Sprintf("a fault (%v)", err), "a file as this program writes it")
	p.Err = err
	return p
}

// without returns sorted paths without one.
func without(paths []string, path string) []string {
	if i, ok := slices.BinarySearch(paths, path); ok {
		return slices.Delete(paths, i, i+1)
	}
	return paths
}
