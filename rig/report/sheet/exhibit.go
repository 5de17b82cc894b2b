package sheet

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"sync"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/report/series"
	"quern/rig/score"
	"quern/rig/session"
)

// exhibit is a session with what a page shows of it.
type exhibit struct {
	rec      *rig.Record
	runs     []*score.Run // of the campaign
	result   rig.Result   // whole
	manifest session.Manifest
	shown    []curves // by run of the result
	seconds  float64
	whyNot   string // why there are no curves; "": there are
}

// curves are those of one run.
type curves struct {
	level, top, current, mass report.Series
	extra                     []report.Extra
	stepS                     float64
	background                []float64 // third-octave levels before the first start, dB; nil: none
	bandsHz                   []float64 // of the background
	whyNoBackground           string
}

const (
	leastStepS  = 0.1  // s; no curve of a page is finer
	mostColumns = 1200 // of a curve
	beforeS     = 0.3  // s before the first start at which the background ends
	leastQuietS = 1.0  // s
	longQuietS  = 30.0 // s; earlier quiet is not looked at
)

// exhibits opens the sessions that the runs are of.
func (b *book) exhibits(ctx context.Context, runs []*score.Run) (map[string]*exhibit, error) {
	out := map[string]*exhibit{}
	var all []*exhibit
	for _, r := range runs {
		x := out[r.Record.Session]
		if x == nil {
			x = &exhibit{rec: r.Record}
			out[r.Record.Session] = x
			all = append(all, x)
		}
		x.runs = append(x.runs, r)
	}
	err := each(len(all), func(i int) error { return b.open(ctx, all[i], true) })
	return out, err
}

// each does n things, as many at a time as there are processors, and returns the first error by number.
func each(n int, do func(i int) error) error {
	errs := make([]error, n)
	next := make(chan int)
	var workers sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		workers.Go(func() {
			for i := range next {
				errs[i] = do(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	workers.Wait()
	return errors.Join(errs...)
}

// open reads a session: its result and, if they are wanted, its curves. What is wrong with the curves of one
// session is said in its place.
func (b *book) open(ctx context.Context, x *exhibit, curves bool) error {
	if x.rec.Origin == rig.ByHand {
		x.result, x.whyNot = x.rec.Result, "taken by hand: there is no recording"
		return nil
	}
	var err error
	if x.result, err = b.Result(x.rec); err != nil {
		return fmt.Errorf("report: session %s: %w", x.rec.Session, err)
	}
	if !curves {
		return nil
	}
	dir := b.Dirs[x.rec.Session]
	s, err := series.Open(dir, filepath.Join(filepath.Dir(dir), series.CacheName))
	if err != nil {
		x.whyNot = err.Error()
		return nil
	}
	defer s.Close()
	if err := s.Wait(ctx); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		x.whyNot = err.Error()
		return nil
	}
	x.manifest, x.seconds = s.Manifest(), s.Seconds()
	for i := range x.result.Runs {
		k, err := curvesOf(ctx, s, &x.result.Runs[i])
		if err != nil {
			return fmt.Errorf("report: session %s: %w", x.rec.Session, err)
		}
		if i > 0 {
			first := &x.shown[0]
			k.background, k.bandsHz, k.whyNoBackground = first.background, first.bandsHz, first.whyNoBackground
		}
		x.shown = append(x.shown, k)
	}
	return nil
}

// curvesOf reads the curves of a run.
func curvesOf(ctx context.Context, s *series.Session, run *rig.Run) (curves, error) {
	var k curves
	if !run.StartS.OK || !run.EndS.OK || run.EndS.V <= run.StartS.V {
		k.whyNoBackground = "the run has no beginning or no end"
		return k, nil
	}
	pad := max(1, 0.04*(run.EndS.V-run.StartS.V))
	from, to := max(0, run.StartS.V-pad), min(s.Seconds(), run.EndS.V+pad)
	k.stepS = max(leastStepS, (to-from)/mostColumns)
	n := max(1, int(math.Ceil((to-from)/k.stepS)))
	get := func(channel string) (series.Envelope, bool, error) {
		e, err := s.Envelope(ctx, channel, from, from+float64(n)*k.stepS, n)
		if errors.Is(err, series.ErrAbsent) {
			return e, false, nil
		}
		return e, err == nil, err
	}
	for _, c := range []struct {
		channel string
		take    func(series.Envelope)
	}{
		{series.Level, func(e series.Envelope) { k.level, k.top = along(e, e.Mean), along(e, e.Max) }},
		{series.RMS, func(e series.Envelope) { k.current = between(e) }},
		{series.Mass, func(e series.Envelope) { k.mass = along(e, e.Mean) }},
	} {
		e, ok, err := get(c.channel)
		if err != nil {
			return k, err
		}
		if ok {
			c.take(e)
		}
	}
	for _, st := range s.Streams() {
		if st.Form != rig.Value || st.Channel == rig.Scale || st.Channel == rig.Clamp || st.Channel == rig.Microphone {
			continue
		}
		e, ok, err := get(series.Extra + string(st.Channel))
		if err != nil {
			return k, err
		}
		if ok {
			k.extra = append(k.extra, report.Extra{Name: string(st.Channel), Unit: string(st.Unit), Series: along(e, e.Mean)})
		}
	}
	return k, k.quiet(ctx, s, run.StartS.V)
}

// quiet reads the spectrum of the room before the first start.
func (k *curves) quiet(ctx context.Context, s *series.Session, startS float64) error {
	to := startS - beforeS
	from := max(0, to-longQuietS)
	if to-from < leastQuietS {
		k.whyNoBackground = fmt.Sprintf("less than %g s of quiet before the first start", leastQuietS)
		return nil
	}
	const cellS = 0.125 // whole cells only: the last one may already hold the motor's start
	o, err := s.Octaves(ctx, from, math.Floor(to/cellS)*cellS, 1)
	if errors.Is(err, series.ErrAbsent) {
		k.whyNoBackground = "no sound was recorded"
		return nil
	}
	if err != nil || len(o.DB) == 0 {
		return err
	}
	k.bandsHz = o.BandsHz
	for _, v := range o.DB[0] {
		k.background = append(k.background, float64(v))
	}
	return nil
}

// along puts values into the middle of their columns.
func along(e series.Envelope, v []float32) report.Series {
	var out report.Series
	for i, x := range v {
		out.AtS, out.V = append(out.AtS, e.FromS+(float64(i)+0.5)*e.StepS), append(out.V, float64(x))
	}
	return out
}

// between keeps the least and the greatest of every column, so that no peak is lost.
func between(e series.Envelope) report.Series {
	var out report.Series
	for i := range e.Min {
		at := e.FromS + float64(i)*e.StepS
		out.AtS = append(out.AtS, at+0.25*e.StepS, at+0.75*e.StepS)
		out.V = append(out.V, float64(e.Min[i]), float64(e.Max[i]))
	}
	return out
}
