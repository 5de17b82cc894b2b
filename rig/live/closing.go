package live

import (
	"fmt"
	"math"
	"time"

	"quern/detect"
	"quern/rig"
	"quern/rig/session"
)

// keep syncs, closes and writes figures when it is time to.
func (e *Engine) keep(known detect.Now, now float64) {
	set := e.setup.Bench.Record
	if now-e.rec.figuredS >= figureS {
		e.rec.figuredS = now
		if err := e.rec.figures(known, e.last); err != nil {
			e.broken(err)
			return
		}
	}
	// After a hold-up a queue of old blocks comes in at once: their own time counts too.
	if now-e.rec.syncedS >= set.SyncS || known.AtS-e.rec.syncedAtS >= set.SyncS {
		if err := e.syncBeside(now, known.AtS); err != nil {
			e.broken(err)
			return
		}
	}
	after := set.CloseAfter
	if after == 0 {
		after = e.setup.Procedure.LongestPauseS
	}
	at := known.AtS
	if !e.decides {
		at = now - e.rec.fold.baseS // nothing tells how far the analysis is
	}
	switch {
	case known.Runs > 0 && !known.Running && at-known.StopS > after && known.State != rig.Unknown:
		if hold := e.holdS(after); at-known.StopS > hold {
			e.closing(fmt.Sprintf("no restart within %g s", hold))
		}
	case known.Runs == 0 && at > after+set.PreRollS && !e.rec.asked:
		e.closing("no run was found after all")
	case at > set.LongestS:
		e.closing(fmt.Sprintf("the longest session, %g s, is full", set.LongestS))
	}
}

// leftoverPauses is how many of the procedure's longest pauses a session waits for leftovers, s after the
// last stop. It is the project's own choice: they drain for minutes, and hands are few.
const leftoverPauses = 2

// holdS is how long after its last stop a session stays open: longer than usual while what was weighed in
// has leftovers that nobody has weighed yet.
func (e *Engine) holdS(after float64) float64 {
	if e.charged() && len(e.outstanding()) > 0 {
		return max(after, leftoverPauses*e.setup.Procedure.LongestPauseS)
	}
	return after
}

func (e *Engine) closing(why string) {
	if err := e.close(why); err != nil {
		e.opts.Log.Error("the session could not be closed well; it will be recovered", "err", err)
	}
}

// sync makes what was recorded last, and waits for it: somebody is told that it is on record.
func (e *Engine) sync(now float64) error {
	begun := time.Now()
	err := e.rec.w.Sync()
	e.rec.syncedS = now
	e.synced(time.Since(begun))
	return err
}

// syncBeside makes what was recorded last, and goes on meanwhile: a busy disk can take seconds, and so long nobody would
// see the motor stop. Where one sync goes on already, the next begins as soon as it is over.
func (e *Engine) syncBeside(now, atS float64) error {
	at := time.Now()
	begun, err := e.rec.w.SyncBeside(func() { e.synced(time.Since(at)) })
	e.rec.syncedS, e.rec.syncedAtS = math.Inf(-1), atS
	if begun {
		e.rec.syncedS = now
	}
	return err
}

// synced counts a sync.
func (e *Engine) synced(took time.Duration) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.tot.synced(took.Seconds())
}

// open begins a session whose first event is at atS, with what was kept before it.
func (e *Engine) open(atS float64, why string) {
	from := max(atS-e.setup.Bench.Record.PreRollS, e.ring.fromS())
	if e.ring.empty() {
		from = max(from, min(e.closed, atS)) // what came before belongs to the last session
	}
	rec, err := e.recordFrom(from)
	if err != nil {
		e.wait()
		if !e.fit() {
			return // which tells more, and of which one hears when it is over
		}
		e.fail(fmt.Errorf("no session could be opened: %w", err))
		return
	}
	e.rec, e.watch = rec, nil
	e.recovers()
	e.opts.Log.Info("session opened", "session", rec.name, "unit", e.setup.Unit.ID, "procedure", e.setup.Procedure.ID, "why", why)
	if err := e.ring.each(rec.take); err != nil {
		e.broken(err)
		return
	}
	rec.figuredS = e.sup.NowS()
	if err := e.syncBeside(rec.figuredS, 0); err != nil { // what came before the start is worth as much as what follows
		e.broken(err)
	}
}

// close seals the open session, if there is one.
func (e *Engine) close(why string) error {
	rec := e.rec
	if rec == nil {
		return nil
	}
	e.rec, e.watch = nil, nil
	known := rec.fold.a.Now(true)
	for _, t := range rec.news(known) {
		if err := rec.w.AppendEvent(t.Run, t.Event); err != nil {
			_ = rec.w.Close() // the first error tells more
			return err
		}
	}
	if err := rec.w.Seal(); err != nil {
		_ = rec.w.Close() // the first error tells more
		return err
	}
	res := rec.fold.a.Finish(rec.name)
	res.Warnings = append(append([]rig.Warning{}, rec.warnings...), res.Warnings...)
	e.opts.Log.Info("session closed", "session", rec.name, "runs", len(res.Runs), "warnings", len(res.Warnings), "why", why)
	if err := e.store(rec, res); err != nil {
		e.opts.Log.Error("the analysis could not be stored; whoever needs it will analyse the session again", "session", rec.name, "err", err)
	}
	e.mu.Lock()
	e.tot.sessions++
	e.mu.Unlock()
	e.pauseS = 0
	e.rewatchAfter()
	e.lastDir = rec.dir
	if e.opts.Closed != nil {
		e.opts.Closed(rec.dir, res)
	}
	return nil
}

// store keeps what the session came to, so that scoring need not replay it.
func (e *Engine) store(rec *recorder, res rig.Result) error {
	if rec.dropped {
		return nil // a replay ends where the waveforms do, and knows less
	}
	b, err := session.OpenFacts(rec.dir)
	if err != nil {
		return err
	}
	set := e.setup.ForAnalysis()
	return session.StoreAnalysis(rec.dir, session.Analysis{Settings: string(set.TOML()), SettingsSHA256: session.SettingsSum(set), Tool: e.opts.Tool,
		Sealed: b.Manifest.Self, Made: e.opts.Wall().UTC(), Result: res})
}

// rewatchAfter forgets what the closed session holds, so that its last run is not found again.
func (e *Engine) rewatchAfter() {
	e.ring.clear()
	e.watch = nil
	e.closed, e.known = e.sup.NowS(), detect.Now{}
	e.pan.forget()
}

// broken ends a session that the disk no longer takes.
func (e *Engine) broken(err error) {
	if e.rec != nil {
		_ = e.rec.w.Close() // what the disk holds will be recovered
		e.rec = nil
	}
	e.rewatchAfter()
	e.wait()
	e.fail(err)
}

// A disk that took no session is tried again after retryS, then after twice that and so on, but after no more than
// patientS: what is kept before a start covers it. s
const (
	retryS   = 1.0
	patientS = 16.0
)

// wait puts off the next try to record: a disk that fails at each would be covered with pieces of sessions.
func (e *Engine) wait() {
	e.tried, e.pauseS = e.sup.NowS(), min(max(retryS, 2*e.pauseS), patientS)
}

// fail tells why nothing is recorded: once, however often it is tried again.
func (e *Engine) fail(err error) {
	e.mu.Lock()
	told := e.tot.fault == err.Error()
	e.tot.fault = err.Error()
	e.mu.Unlock()
	if !told {
		e.opts.Log.Error("recording stopped", "err", err)
	}
}

// recovers forgets the fault: whatever it was, the disk takes a session again.
func (e *Engine) recovers() {
	e.mu.Lock()
	e.tot.fault = ""
	e.mu.Unlock()
}
