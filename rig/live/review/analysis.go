package review

import (
	"context"
	"errors"
	"net/http"
	"sync"
	"time"

	"quern/config"
	"quern/detect"
	"quern/rig"
	"quern/rig/report/series"
	"quern/rig/session"
	"quern/rig/session/replay"
)

// analysis is one that is under way, or was made here.
type analysis struct {
	*series.Job
	result rig.Result
	sum    string // SHA-256 of the settings
	tool   string
	made   time.Time
	stored bool // read from the session's folder
}

// watched is a source that ends with its context and says how far it is.
type watched struct {
	rig.Source
	ctx  context.Context
	job  *series.Job // may be nil
	endS float64
}

func (w *watched) Next() (rig.Block, error) {
	if err := w.ctx.Err(); err != nil {
		return rig.Block{}, err
	}
	b, err := w.Source.Next()
	if err == nil && w.job != nil && w.endS > 0 {
		w.job.Reach(b.StartS / w.endS)
	}
	return b, err
}

// analyse analyses the session under given settings.
func (s *Session) analyse(ctx context.Context, set config.Setup, j *series.Job) (rig.Result, error) {
	return replay.Analyse(s.Recorded(), set, detect.Trace{}, func(src rig.Source) rig.Source { return &watched{src, ctx, j, s.Seconds()} })
}

// analysed returns the analysis of the session under given settings: the stored one, or one that is now
// being made. It does not wait for that.
func (s *Session) analysed(b session.Brief, set config.Setup, o *Options, name string) *analysis {
	key := session.AnalysisKey(set)
	if a, err := b.Analysis(key); err == nil {
		out := &analysis{Job: series.NewJob(), result: a.Result, sum: a.SettingsSHA256, tool: a.Tool, made: a.Made, stored: true}
		out.End(nil)
		return out
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if a := s.analyses[key]; a != nil && a.Err() == nil {
		return a
	}
	a := &analysis{Job: series.NewJob(), tool: o.Tool}
	s.analyses[key] = a
	s.wait.Add(1)
	go func() {
		defer s.wait.Done()
		a.End(s.makeAnalysis(a, set, o))
		if a.Err() == nil && o.Changed != nil {
			o.Changed(name)
		}
	}()
	return a
}

func (s *Session) makeAnalysis(a *analysis, set config.Setup, o *Options) error {
	select {
	case s.slots.analyse <- struct{}{}:
		defer func() { <-s.slots.analyse }()
	case <-s.ctx.Done():
		return s.ctx.Err()
	}
	res, err := s.analyse(s.ctx, set, a.Job)
	if err != nil {
		return err
	}
	made := s.Recorded().Analysed(set, o.Tool, o.Now(), res)
	a.result, a.sum, a.made = res, made.SettingsSHA256, made.Made
	// What cannot be kept is still known here.
	if err := session.StoreAnalysis(s.Dir(), made); err != nil && o.Log != nil {
		o.Log.Warn("an analysis could not be kept", "session", s.Manifest().Session, "err", err)
	}
	return nil
}

// setup returns the settings under which the session counts: its own, with the unit and the procedure that
// corrections of the whole session name.
func (s *Session) setup(facts rig.Facts, lab *config.Lab) config.Setup {
	m := s.Manifest()
	unit, procedure := m.Unit, m.Procedure
	for _, k := range facts.Corrections {
		switch {
		case k.Run != 0:
		case k.Target == "unit":
			unit = k.New
		case k.Target == "procedure":
			procedure = k.New
		}
	}
	set := s.Setup()
	if (unit != m.Unit || procedure != m.Procedure) && lab != nil {
		if now, err := lab.Setup(unit, procedure); err == nil {
			set.Unit, set.Procedure = now.Unit, now.Procedure
		}
	}
	return set.ForAnalysis()
}

// known is what is known of a session at present: its facts, and its analysis as far as there is one.
type known struct {
	dir   string
	brief session.Brief
	lab   *config.Lab
	set   config.Setup // of the analysis
	*analysis
}

// know reads the facts and finds the analysis, for which it waits a little.
func (s *Session) know(ctx context.Context, o *Options, name string) (known, error) {
	k := known{dir: s.Dir()}
	var err error
	if k.brief, err = session.OpenFacts(s.Dir()); err != nil {
		return k, err
	}
	if o.Lab != nil {
		k.lab = o.Lab()
	}
	k.set = s.setup(k.brief.Facts, k.lab)
	if m := s.Manifest(); len(m.Streams) == 0 { // by hand: there is nothing to analyse
		k.analysis = &analysis{Job: series.NewJob(), tool: m.Tool}
		k.End(nil)
		return k, nil
	}
	k.analysis = s.analysed(k.brief, k.set, o, name)
	return k, k.Await(ctx)
}

// Align returns the instant at which a run begins, so that two can be laid over each other.
func (h *Shelf) Align(ctx context.Context, name string, run int) (startS float64, err error) {
	err = h.with(ctx, name, func(s *Session) error {
		k, err := s.know(ctx, &h.o, name)
		switch {
		case err != nil:
			return err
		case !k.Over():
			return fault(http.StatusServiceUnavailable, "session %s is being analysed: ask again in some seconds", name)
		case run < 1 || run > len(k.result.Runs):
			return fault(http.StatusNotFound, "found run %d, expected 1 to %d: so many were found in session %s", run, len(k.result.Runs), name)
		case !k.result.Runs[run-1].StartS.OK:
			return fault(http.StatusNotFound, "run %d of session %s has no start", run, name)
		}
		startS = k.result.Runs[run-1].StartS.V
		return nil
	})
	return startS, err
}

var errBusy = errors.New("busy")

// once lets one at a time pass, and turns others away.
type once struct{ sync.Mutex }

func (o *once) try(f func() error) error {
	if !o.TryLock() {
		return errBusy
	}
	defer o.Unlock()
	return f()
}
