// Package index reads a folder of sessions for scoring. What it has read it keeps in an SQLite file
// beside them, which may be deleted at any time: the session folders are the record, and the answers
// are the same without it.
package index

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

// Name is that of the file in the folder of the sessions.
const Name = ".index.sqlite"

// Options say under which settings sessions are read.
type Options struct {
	Lab *config.Lab
	// Present: under the lab's present settings; otherwise under those stored in each session.
	Present bool
	// Analyse is asked for an analysis that is not stored, or is of another session; it may store it.
	Analyse func(dir string, set config.Setup) (rig.Result, string, error)
	// Step is told after each session; may be nil.
	Step func(done, of int)
	// Without: the index is neither read nor written.
	Without bool
}

// Found is what a folder held.
type Found struct {
	Records []rig.Record
	Skipped []Skipped // sessions that could not be read, or are still open
}

// Skipped is a session that is not among the records.
type Skipped struct{ Session, Why string }

// Read reads all sessions of a folder, in the order of their names. A session that cannot be read is
// skipped with the reason. The error is for a folder that cannot be read, and of Analyse.
func Read(folder string, o Options) (Found, error) {
	names, err := sessions(folder)
	if err != nil {
		return Found{}, err
	}
	r := &reader{folder: folder, o: o, keys: map[[2]string]string{}}
	if !o.Without {
		r.open()
		defer r.close()
	}
	var out Found
	for i, name := range names {
		rec, skip, err := r.session(name)
		switch {
		case err != nil:
			return Found{}, err
		case skip != "":
			out.Skipped = append(out.Skipped, Skipped{name, skip})
		default:
			out.Records = append(out.Records, rec)
		}
		if o.Step != nil {
			o.Step(i+1, len(names))
		}
	}
	r.forget(names)
	return out, nil
}

// sessions lists the folders that hold a manifest; a session folder itself is one.
func sessions(folder string) ([]string, error) {
	if _, err := os.Stat(filepath.Join(folder, "manifest.json")); err == nil {
		return []string{"."}, nil
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		var p *fs.PathError
		found := err.Error()
		if errors.As(err, &p) {
			found = p.Err.Error()
		}
		return nil, &rig.FileError{File: folder, Byte: -1, Found: found, Want: "a folder of sessions", Do: "name the folder that --out of serve or import filled", Err: err}
	}
	var out []string
	for _, e := range entries {
		if !e.IsDir() || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		if _, err := os.Stat(filepath.Join(folder, e.Name(), "manifest.json")); err == nil {
			out = append(out, e.Name())
		}
	}
	slices.Sort(out)
	return out, nil
}

// reader reads the sessions of one folder.
type reader struct {
	folder string
	o      Options
	store  *store
	keys   map[[2]string]string // of the present settings, by unit and procedure
}

func (r *reader) open() {
	s, err := openStore(filepath.Join(r.folder, Name))
	if err != nil {
		return // as good as none: the folders are the record
	}
	r.store = s
}

func (r *reader) close() {
	if r.store != nil {
		r.store.close()
	}
}

func (r *reader) forget(names []string) {
	if r.store != nil {
		r.store.keep(names)
	}
}

// session returns the record of one session, or why it is skipped.
func (r *reader) session(name string) (rec rig.Record, skip string, err error) {
	dir := filepath.Join(r.folder, name)
	print, err := printOf(dir, "manifest.json", "addenda.lp")
	if err != nil {
		return rec, reason(err), nil
	}
	row, known := entry{}, false
	if r.store != nil {
		row, known = r.store.entry(name)
	}
	var brief *session.Brief
	if !known || row.print != print {
		b, e, err := r.look(dir, name)
		if err != nil {
			return rec, reason(err), nil
		}
		if b.Manifest.State != session.Sealed {
			return rec, "it is not sealed: being recorded, or to be recovered", nil
		}
		e.print = print
		row, brief = e, &b
		if r.store != nil {
			r.store.put(row)
		}
	}
	key, err := r.key(dir, row)
	if err != nil {
		return rec, reason(err), nil
	}
	result := resultName(key)
	if r.store != nil {
		if now, err := printOf(dir, result); err == nil {
			if rec, ok := r.store.record(name, key, print+now); ok {
				return rec, "", nil
			}
		}
	}
	if brief == nil {
		b, err := session.OpenFacts(dir)
		if err != nil {
			return rec, reason(err), nil
		}
		brief = &b
	}
	if rec, err = r.load(dir, row, key, brief); err != nil {
		return rec, "", err
	}
	if r.store != nil {
		if now, err := printOf(dir, result); err == nil {
			r.store.putRecord(name, key, print+now, rec)
		}
	}
	return rec, "", nil
}

// look reads what the index has to know of a session before its record can be found.
func (r *reader) look(dir, name string) (session.Brief, entry, error) {
	b, err := session.OpenFacts(dir)
	if err != nil {
		return b, entry{}, err
	}
	e := entry{name: name, unit: b.Manifest.Unit, procedure: b.Manifest.Procedure, started: b.Manifest.Started.UnixNano()}
	for _, k := range b.Facts.Corrections {
		if k.Run != 0 {
			continue
		}
		switch k.Target {
		case "unit":
			e.unit = k.New
		case "procedure":
			e.procedure = k.New
		}
	}
	e.moved = e.unit != b.Manifest.Unit || e.procedure != b.Manifest.Procedure
	if !e.moved && !r.o.Present {
		set, err := session.ReadSetup(dir)
		if err != nil {
			return b, e, err
		}
		e.storedKey = session.AnalysisKey(set.ForAnalysis())
	}
	return b, e, nil
}

// key names the analysis that is wanted of a session.
func (r *reader) key(dir string, e entry) (string, error) {
	if !r.o.Present && e.storedKey != "" {
		return e.storedKey, nil
	}
	if k, ok := r.keys[[2]string{e.unit, e.procedure}]; ok && r.o.Present {
		return k, nil
	}
	set, err := r.setup(dir, e)
	if err != nil {
		return "", err
	}
	k := session.AnalysisKey(set)
	if r.o.Present {
		r.keys[[2]string{e.unit, e.procedure}] = k
	}
	return k, nil
}

// setup is what is in force for a session: the lab's present settings, or its own with the unit and the
// procedure that corrections name.
func (r *reader) setup(dir string, e entry) (config.Setup, error) {
	if r.o.Present {
		set, err := r.o.Lab.Setup(e.unit, e.procedure)
		return set.ForAnalysis(), err
	}
	set, err := session.ReadSetup(dir)
	if err != nil {
		return set, err
	}
	if e.moved {
		now, err := r.o.Lab.Setup(e.unit, e.procedure)
		if err != nil {
			return set, err
		}
		set.Unit, set.Procedure = now.Unit, now.Procedure
	}
	return set.ForAnalysis(), nil
}

// load makes a record of a session's facts and its analysis.
func (r *reader) load(dir string, e entry, key string, b *session.Brief) (rig.Record, error) {
	m := b.Manifest
	rec := rig.Record{Session: m.Session, Bench: m.Bench, Unit: m.Unit, Procedure: m.Procedure, Origin: cmp.Or(m.Origin, rig.Recorded),
		Started: m.Started.UTC(), Tool: m.Tool, Sealed: m.Self, Chain: b.Chain, Facts: b.Facts, Warnings: b.Warnings}
	if len(m.Streams) == 0 { // by hand: there is nothing to analyse
		return rec, nil
	}
	a, err := b.Analysis(key)
	if err == nil {
		rec.Result, rec.Settings = a.Result, a.SettingsSHA256
	} else {
		set, serr := r.setup(dir, e)
		if serr != nil {
			return rec, serr
		}
		if rec.Result, rec.Settings, err = r.o.Analyse(dir, set); err != nil {
			return rec, fmt.Errorf("%s: %w", dir, err)
		}
	}
	slim(&rec.Result)
	return rec, nil
}

// slim leaves out of a result what no score looks at.
func slim(res *rig.Result) {
	for i := range res.Runs {
		res.Runs[i].States, res.Runs[i].Sound.ThirdOctaves, res.Runs[i].Motor.HarmonicsA = nil, nil, nil
	}
}

func resultName(key string) string { return filepath.Join("analyses", key+".json") }

// printOf tells whether files are still those that were read: size and time of change of each.
func printOf(dir string, names ...string) (string, error) {
	var b strings.Builder
	for i, name := range names {
		info, err := os.Stat(filepath.Join(dir, name))
		switch {
		case err == nil:
			fmt.Fprintf(&b, "%d.%d;", info.Size(), info.ModTime().UnixNano())
		case i > 0 && errors.Is(err, fs.ErrNotExist) || strings.HasPrefix(name, "analyses"):
			b.WriteString("-;")
		default:
			return "", err
		}
	}
	return b.String(), nil
}

func reason(err error) string { return err.Error() }
