// Package index reads a folder of sessions for scoring. What it has read it keeps in an SQLite file
// beside them, which may be deleted at any time: the session folders are the record, and the answers
// are the same without it. The file is for this program alone, on the machine that wrote it.
package index

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"quern/config"
	"quern/rig"
)

// Name is that of the file in the folder of the sessions.
const Name = ".index.sqlite"

// Options say under which settings sessions are read.
type Options struct {
	// Lab is needed for Present, and for sessions whose unit or procedure was corrected.
	Lab *config.Lab
	// Present: under the lab's present settings; otherwise under those stored in each session, but for
	// a unit or a procedure that a correction names, which is the lab's.
	Present bool
	// Analyse is asked for an analysis that is not stored, does not read, or is of another session; it
	// may store it. An error that is a *rig.FileError is the session's, which is then skipped; any other
	// ends the reading. Without it such sessions are skipped. It is called by one goroutine, in the
	// order of the names.
	Analyse func(dir string, set config.Setup) (rig.Result, string, error)
	// Step is told after each session, by that goroutine; may be nil.
	Step func(done, of int)
	// Without: the index is neither read nor written.
	Without bool
	// Tool: a stored analysis counts only if this version of the program made it, as the index cannot say; "": whoever did.
	Tool string

	now func() time.Time // of tests; nil: the clock
}

// Found is what a folder held.
type Found struct {
	Records []rig.Record
	Dirs    []string  // the folder of each record
	Skipped []Skipped // sessions that could not be read, or are still open
}

// Skipped is a session that is not among the records.
type Skipped struct {
	Session, Why string
	Open         bool // not sealed: being recorded, or cut off
}

// Read reads all sessions of a folder, in the order of their names; of a session's own folder, that one.
// A session that cannot be read is skipped with the reason; one that is damaged but reads has warnings.
// The error is for a folder that cannot be read, and of Analyse.
func Read(folder string, o Options) (Found, error) {
	names, alone, err := sessions(folder)
	if err != nil {
		return Found{}, err
	}
	if o.now == nil {
		o.now = time.Now
	}
	r := newReader(folder, o)
	if !o.Without && o.Tool == "" && !alone { // what was sealed gets no file that was not
		r.store = openStore(filepath.Join(folder, Name), o.Present)
	}
	var out Found
	err = r.each(names, func(i int, s seen) error {
		if s.lacks != nil {
			if err := r.analyse(names[i], &s); err != nil {
				return err
			}
		}
		if s.skip != "" {
			out.Skipped = append(out.Skipped, Skipped{shown(folder, names[i]), s.skip, s.open})
		} else {
			out.Records = append(out.Records, s.rec)
			out.Dirs = append(out.Dirs, filepath.Join(folder, names[i]))
		}
		r.store.put(s.entry, s.body)
		if o.Step != nil {
			o.Step(i+1, len(names))
		}
		return nil
	})
	if err == nil {
		r.store.keep(names)
	}
	r.store.close()
	if err != nil {
		return Found{}, err
	}
	return out, nil
}

// shown returns what a session that does not read is called.
func shown(folder, name string) string {
	return filepath.Base(filepath.Join(folder, name))
}

// sessions lists the folders that hold a manifest. A session's own folder is a list of one: alone.
func sessions(folder string) (names []string, alone bool, err error) {
	if isSession(folder) {
		return []string{"."}, true, nil
	}
	entries, err := os.ReadDir(folder) // by name
	if err != nil {
		return nil, false, &rig.FileError{File: folder, Byte: -1, Found: rig.Closed(err), Want: "a folder of sessions",
			Do: "name the folder that --out of serve or import filled", Err: err}
	}
	for _, e := range entries {
		if e.IsDir() && !strings.HasPrefix(e.Name(), ".") && isSession(filepath.Join(folder, e.Name())) {
			names = append(names, e.Name())
		}
	}
	return names, false, nil
}

func isSession(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, "manifest.json"))
	return err == nil
}

// analyse makes the analysis that a session lacks.
func (r *reader) analyse(name string, s *seen) error {
	dir := filepath.Join(r.folder, name)
	if r.o.Analyse == nil {
		s.skip = "it has not been analysed under these settings"
		return nil
	}
	var err error
	if s.rec.Result, s.rec.Settings, err = r.o.Analyse(dir, *s.lacks); err != nil {
		err = fmt.Errorf("%s: %w", dir, err)
		var damaged *rig.FileError
		if !errors.As(err, &damaged) {
			return err
		}
		s.skip = err.Error()
		return nil
	}
	slim(&s.rec.Result)
	return nil
}
