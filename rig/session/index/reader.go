package index

import (
	"cmp"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

// reader reads the sessions of one folder. Its methods may be called by several goroutines.
type reader struct {
	folder string
	o      Options
	began  time.Time
	store  *store // nil: none

	mu      sync.Mutex
	present map[[2]string]string // keys of the present settings, by unit and procedure
	stored  map[string]string    // keys of stored settings, by their text: most sessions share it
}

func newReader(folder string, o Options) *reader {
	return &reader{folder: folder, o: o, began: o.now(), present: map[[2]string]string{}, stored: map[string]string{}}
}

// seen is what reading a session came to.
type seen struct {
	rec   rig.Record
	skip  string        // why there is none
	open  bool          // it is not sealed
	lacks *config.Setup // the record lacks its analysis, under these settings
	entry *entry        // what the index is to be told
	body  *body
}

// each reads the sessions, several at a time, and hands what they came to over in their order.
func (r *reader) each(names []string, take func(i int, s seen) error) error {
	slots := make([]chan seen, len(names))
	for i := range slots {
		slots[i] = make(chan seen, 1)
	}
	var next atomic.Int64
	var stopped atomic.Bool
	var all sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(names)) {
		all.Go(func() {
			for !stopped.Load() {
				i := int(next.Add(1)) - 1
				if i >= len(names) {
					return
				}
				slots[i] <- r.session(names[i])
			}
		})
	}
	defer all.Wait()
	for i := range slots {
		if err := take(i, <-slots[i]); err != nil {
			stopped.Store(true)
			return err
		}
	}
	return nil
}

// session reads one session: from the index if nothing has changed.
func (r *reader) session(name string) seen {
	dir := filepath.Join(r.folder, name)
	e, ok := r.store.entry(name)
	if !ok || !unchanged(dir, e.print) {
		return r.look(dir, name)
	}
	key, err := r.key(dir, &e)
	if err != nil {
		return seen{skip: err.Error()}
	}
	var s seen
	b, _ := r.store.body(name)
	analysis, ok := strings.CutPrefix(b.print, e.print)
	if ok && b.key == key && unchanged(dir, analysis) {
		if s.rec, err = session.DecodeRecord(b.text); err == nil {
			return s
		}
	}
	return r.look(dir, name)
}

// look reads the session's folder.
func (r *reader) look(dir, name string) seen {
	b, err := session.OpenFacts(dir)
	if err != nil {
		return seen{skip: err.Error()}
	}
	if b.Manifest.State != session.Sealed {
		return seen{skip: "it is not sealed: being recorded, or to be recovered", open: true}
	}
	e := entryOf(name, b)
	key, err := r.key(dir, &e)
	if err != nil {
		return seen{skip: err.Error()}
	}
	s := seen{rec: b.Record()}
	if !e.byHand {
		a, err := b.Analysis(key)
		if err != nil || r.o.Tool != "" && a.Tool != r.o.Tool { // as good as none
			set, err := r.setup(dir, e)
			if err != nil {
				return seen{skip: err.Error()}
			}
			s.lacks = &set
			return s
		}
		s.rec.Result, s.rec.Settings = a.Result, a.SettingsSHA256
		slim(&s.rec.Result)
	}
	r.note(dir, key, e, b, &s)
	return s
}

// note says what the index is to be told. What reading warns of names files as they were named this
// time, and is rare: it is read anew every time.
func (r *reader) note(dir, key string, e entry, b session.Brief, s *seen) {
	if r.store == nil || len(b.Warnings) > len(b.Manifest.Warnings) {
		return
	}
	var ok bool
	if e.print, ok = printOf(dir, r.began, filesOf(dir, b)...); !ok {
		return
	}
	if was, ok := r.store.entry(e.name); ok && was.print == e.print && e.storedKey == "" {
		e.storedKey = was.storedKey
	}
	s.entry = &e
	of := body{name: e.name, key: key, print: e.print}
	if !e.byHand {
		analysis, ok := printOf(dir, r.began, analysisFile(key))
		if !ok {
			return
		}
		of.print += analysis
	}
	var err error
	if of.text, err = session.EncodeRecord(s.rec); err == nil {
		s.body = &of
	}
}

// entryOf tells of a session what must be known before its record can be found.
func entryOf(name string, b session.Brief) entry {
	m := b.Manifest
	e := entry{name: name, unit: m.Unit, procedure: m.Procedure, started: m.Started.UnixNano(), byHand: len(m.Streams) == 0}
	for _, k := range b.Facts.Corrections {
		if k.Run != 0 { // an analysis is of a whole session
			continue
		}
		switch k.Target {
		case "unit":
			e.unit = k.New
		case "procedure":
			e.procedure = k.New
		}
	}
	e.unitMoved, e.procedureMoved = e.unit != m.Unit, e.procedure != m.Procedure
	return e
}

// key names the analysis that is wanted of a session; a session by hand has none. It fills e.storedKey.
func (r *reader) key(dir string, e *entry) (string, error) {
	switch {
	case e.byHand:
		return "", nil
	case r.o.Present:
		return r.presentKey(dir, *e)
	case e.unitMoved || e.procedureMoved:
		set, err := r.setup(dir, *e)
		if err != nil {
			return "", err
		}
		return session.AnalysisKey(set), nil
	case e.storedKey == "":
		var err error
		e.storedKey, err = r.storedKey(dir)
		return e.storedKey, err
	}
	return e.storedKey, nil
}

func (r *reader) presentKey(dir string, e entry) (string, error) {
	of := [2]string{e.unit, e.procedure}
	r.mu.Lock()
	key, ok := r.present[of]
	r.mu.Unlock()
	if ok {
		return key, nil
	}
	set, err := r.setup(dir, e)
	if err != nil {
		return "", err
	}
	key = session.AnalysisKey(set)
	r.mu.Lock()
	r.present[of] = key
	r.mu.Unlock()
	return key, nil
}

func (r *reader) storedKey(dir string) (string, error) {
	name := filepath.Join(dir, settingsName)
	text, err := os.ReadFile(name)
	if err != nil {
		_, err = session.ReadSetup(dir) // which puts it into words
		return "", cmp.Or(err, os.ErrNotExist)
	}
	r.mu.Lock()
	key, ok := r.stored[string(text)]
	r.mu.Unlock()
	if ok {
		return key, nil
	}
	set, err := config.ReadSetup(name, text)
	if err != nil {
		return "", err
	}
	key = session.AnalysisKey(set.ForAnalysis())
	r.mu.Lock()
	r.stored[string(text)] = key
	r.mu.Unlock()
	return key, nil
}

// setup is what a session is to be analysed under.
func (r *reader) setup(dir string, e entry) (config.Setup, error) {
	if r.o.Lab == nil && (r.o.Present || e.unitMoved || e.procedureMoved) {
		return config.Setup{}, errors.New("no lab was given, whose settings it needs")
	}
	if r.o.Present {
		set, err := r.o.Lab.Setup(e.unit, e.procedure)
		return set.ForAnalysis(), err
	}
	set, err := session.ReadSetup(dir)
	if err != nil {
		return set, err
	}
	if e.unitMoved {
		unit := r.o.Lab.Unit(e.unit)
		if unit == nil {
			return set, r.unknown(e)
		}
		set.Unit = *unit
	}
	if e.procedureMoved {
		procedure := r.o.Lab.Procedure(e.procedure)
		if procedure == nil {
			return set, r.unknown(e)
		}
		set.Procedure = *procedure
	}
	return set.ForAnalysis(), nil
}

// unknown tells which of a unit and a procedure the lab does not have.
func (r *reader) unknown(e entry) error {
	_, err := r.o.Lab.Setup(e.unit, e.procedure)
	return err
}

// slim leaves out of a result what no score looks at.
func slim(res *rig.Result) {
	for i := range res.Runs {
		res.Runs[i].States, res.Runs[i].Sound.ThirdOctaves, res.Runs[i].Motor.HarmonicsA = nil, nil, nil
	}
}
