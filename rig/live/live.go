// Package live is the daemon: it takes what the sources deliver, runs the same analysis as a replay,
// opens a session at a motor's start with what was kept in memory before it, and tells the world.
//
// One goroutine, Engine.Run, owns the analysis and the session. Everybody else sees snapshots.
package live

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"sync"
	"time"

	"quern/acquire"
	"quern/config"
	"quern/detect"
	"quern/rig"
)

// Options is what an engine needs.
type Options struct {
	Dir   string // folder of the sessions; it exists
	Setup config.Setup
	Tool  string // the program and its version, for manifests
	Log   *slog.Logger
	Wall  func() time.Time // wall time; it may step
	// Free returns the bytes left on the disk of a folder.
	Free func(dir string) (uint64, error)
	// Told is called with every event as it becomes known, from the engine's goroutine; may be nil.
	Told func(Told)
	// Closed is called with the result of every session, from the engine's goroutine; may be nil.
	Closed func(dir string, res rig.Result)
}

// Told is an event as it became known.
type Told struct {
	Event   rig.Event
	Run     int
	EpochS  float64 // its instant, s since the supervisor's epoch
	KnownS  float64 // the instant up to which everything was in when it became known, s of the session
	Session string
}

// Engine is the daemon's heart.
type Engine struct {
	opts    Options
	sup     *acquire.Supervisor
	streams []rig.Stream
	asked   chan request

	// Owned by Run.
	setup  config.Setup
	ring   ring
	watch  *fold
	rec    *recorder
	wall   wallClock
	looked float64 // when the analysis was last asked, s since the epoch
	loaded float64 // and for load
	disked float64
	idle   float64 // when the idle analysis began
	last   lastSeen

	mu   sync.Mutex
	snap Snapshot
	tot  totals
}

type lastSeen struct {
	massG  rig.Figure
	stable rig.Mark
	extra  map[rig.Channel]float64
}

// New returns an engine over the sources of a supervisor.
func New(sup *acquire.Supervisor, o Options) (*Engine, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Wall == nil {
		o.Wall = time.Now
	}
	if o.Free == nil {
		o.Free = freeBytes
	}
	e := &Engine{opts: o, sup: sup, streams: sup.Streams(), asked: make(chan request), setup: o.Setup}
	e.last.extra = map[rig.Channel]float64{}
	e.tot.events = map[rig.Kind]int64{}
	e.ring = ring{keepS: o.Setup.Bench.Record.PreRollS + 2, single: o.Setup.Bench.Record.Encoding != "pcm32"}
	if len(e.streams) == 0 {
		return nil, errors.New("bench.toml describes no device: set microphone.device.kind, clamp.device.kind or scale.device.kind; quern devices shows what is plugged in")
	}
	if _, err := newFold(e.setup, e.streams, 0); err != nil {
		return nil, err
	}
	return e, nil
}

// tickS is how often the analysis is asked what it knows, s of the sources' time.
const (
	tickS   = 0.04
	loadS   = 1.0   // and for load_start and load_end, which costs more
	renewS  = 600.0 // the idle analysis is begun afresh, so that it stays small
	diskS   = 5.0
	figureS = 1.0 // between two lines of figures in the journal
)

// Run takes blocks until ctx ends; an open session is then closed well. The supervisor runs beside it.
func (e *Engine) Run(ctx context.Context) error {
	tick := time.NewTicker(200 * time.Millisecond) // blocks come oftener; this is for when none do
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			e.drain()
			return e.close("the daemon was stopped")
		case b := <-e.sup.Blocks():
			e.take(b)
		case r := <-e.asked:
			r.answer <- e.serve(r)
			continue
		case <-tick.C:
		}
		e.look()
	}
}

// drain takes what is still on its way.
func (e *Engine) drain() {
	for {
		select {
		case b := <-e.sup.Blocks():
			e.take(b)
		default:
			return
		}
	}
}

// take takes one block, in seconds since the epoch.
func (e *Engine) take(b rig.Block) {
	e.quantise(b)
	e.ring.add(b)
	for _, r := range b.Readings {
		switch b.Channel {
		case rig.Scale:
			e.last.massG, e.last.stable = rig.Fig(r.Value), r.Stable
		case rig.Microphone, rig.Clamp:
		default:
			e.last.extra[b.Channel] = r.Value
		}
	}
	if e.rec != nil {
		if err := e.rec.take(b); err != nil {
			e.broken(err)
		}
		return
	}
	if e.watch == nil {
		e.rewatch()
		return
	}
	if err := e.watch.push(b); err != nil {
		e.opts.Log.Error("the idle analysis failed and is begun afresh", "err", err)
		e.watch = nil
	}
}

// rewatch begins the idle analysis afresh, with what the ring holds.
func (e *Engine) rewatch() {
	f, err := newFold(e.setup, e.streams, e.ring.fromS())
	if err != nil {
		e.opts.Log.Error("no analysis", "err", err)
		return
	}
	if err := e.ring.each(f.push); err != nil {
		e.opts.Log.Error("the idle analysis failed", "err", err)
		return
	}
	e.watch, e.idle = f, e.sup.NowS()
}

// quantise rounds samples to steps of the recordings' encoding, so that a replay gets what live had.
func (e *Engine) quantise(b rig.Block) {
	scale := encodingScale(e.setup.Bench.Record.Encoding)
	for i, v := range b.Samples {
		if scale == 0 {
			b.Samples[i] = float64(float32(v))
			continue
		}
		b.Samples[i] = min(max(math.RoundToEven(v*scale), -scale), scale-1) / scale
	}
}

func encodingScale(name string) float64 {
	switch name {
	case "pcm16":
		return 1 << 15
	case "pcm32":
		return 1 << 31
	case "float32":
		return 0
	}
	return 1 << 23
}

// look asks the analysis what it knows, and does what follows from it.
func (e *Engine) look() {
	now := e.sup.NowS()
	if now-e.looked < tickS {
		return
	}
	e.looked = now
	if step, ok := e.wall.look(e.opts.Wall(), now); ok {
		e.stepped(step)
	}
	if now-e.disked >= diskS {
		e.disked = now
		e.lookAtDisk()
	}
	load := now-e.loaded >= loadS
	if load {
		e.loaded = now
	}
	var known detect.Now
	switch {
	case e.rec != nil:
		known = e.rec.fold.a.Now(load)
		if !load {
			known = e.rec.keepLoad(known)
		}
		e.tell(known)
		if e.rec != nil {
			e.keep(known, now)
		}
	case e.watch != nil:
		known = e.watch.a.Now(false)
		if known.Runs > 0 {
			e.open(e.watch.baseS+firstStart(known), "a motor started")
		} else if now-e.idle > renewS {
			e.rewatch()
		}
	}
	e.publish(known, now, load)
}

func firstStart(n detect.Now) float64 {
	for _, ev := range n.Events {
		if ev.Kind == rig.MotorStart {
			return ev.AtS.V
		}
	}
	return n.StartS
}

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
		e.rec.syncedAtS = known.AtS
		if err := e.sync(now); err != nil {
			e.broken(err)
			return
		}
	}
	after := set.CloseAfter
	if after == 0 {
		after = e.setup.Procedure.LongestPauseS
	}
	switch at := known.AtS; {
	case known.Runs > 0 && !known.Running && at-known.StopS > after && known.State != rig.Unknown:
		e.closing(fmt.Sprintf("no restart within %g s", after))
	case known.Runs == 0 && at > after+set.PreRollS && !e.rec.asked:
		e.closing("no run was found after all")
	case at > set.LongestS:
		e.closing(fmt.Sprintf("the longest session, %g s, is full", set.LongestS))
	}
}

func (e *Engine) closing(why string) {
	if err := e.close(why); err != nil {
		e.opts.Log.Error("the session could not be closed well; it will be recovered", "err", err)
	}
}

// sync makes what was recorded last.
func (e *Engine) sync(now float64) error {
	begun := time.Now()
	err := e.rec.w.Sync()
	e.rec.syncedS = now
	e.mu.Lock()
	e.tot.synced(time.Since(begun).Seconds())
	e.mu.Unlock()
	return err
}

// tell appends, logs and counts what has become known.
func (e *Engine) tell(known detect.Now) {
	news := e.rec.news(known)
	for _, t := range news {
		t.EpochS = e.rec.fold.baseS + t.Event.AtS.V
		t.Session = e.rec.name
		if err := e.rec.w.AppendEvent(t.Run, t.Event); err != nil {
			e.broken(err)
			return
		}
		e.opts.Log.Info(string(t.Event.Kind), "session", e.rec.name, "run", t.Run, "at_s", round3(t.Event.AtS.V), "evidence", t.Event.Evidence)
		e.mu.Lock()
		if e.rec.counts(t) {
			e.tot.events[t.Event.Kind]++
		}
		if t.Event.Kind == rig.MotorStart && t.Run > e.rec.runs {
			e.rec.runs = t.Run
			e.tot.runs++
		}
		e.mu.Unlock()
		if e.opts.Told != nil {
			e.opts.Told(t)
		}
	}
	if len(news) > 0 {
		if err := e.sync(e.sup.NowS()); err != nil {
			e.broken(err)
		}
	}
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }

// open begins a session whose first event is at atS, with what was kept before it.
func (e *Engine) open(atS float64, why string) {
	from := max(atS-e.setup.Bench.Record.PreRollS, e.ring.fromS())
	rec, err := e.record(from)
	if err != nil {
		e.fail(fmt.Errorf("no session could be opened: %w", err))
		return
	}
	e.rec, e.watch = rec, nil
	e.opts.Log.Info("session opened", "session", rec.name, "unit", e.setup.Unit.ID, "procedure", e.setup.Procedure.ID, "why", why)
	if err := e.ring.each(rec.take); err != nil {
		e.broken(err)
		return
	}
	rec.figuredS = e.sup.NowS()
	if err := e.sync(rec.figuredS); err != nil { // what came before the start is worth as much as what follows
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
	e.mu.Lock()
	e.tot.sessions++
	e.mu.Unlock()
	e.rewatchAfter()
	if e.opts.Closed != nil {
		e.opts.Closed(rec.dir, res)
	}
	return nil
}

// rewatchAfter forgets what the closed session holds, so that its last run is not found again.
func (e *Engine) rewatchAfter() {
	e.ring.clear()
	e.watch = nil
}

// broken ends a session that the disk no longer takes.
func (e *Engine) broken(err error) {
	if e.rec != nil {
		_ = e.rec.w.Close() // what the disk holds will be recovered
		e.rec = nil
	}
	e.rewatchAfter()
	e.fail(err)
}

func (e *Engine) fail(err error) {
	e.opts.Log.Error("recording stopped", "err", err)
	e.mu.Lock()
	e.tot.fault = err.Error()
	e.tot.faultS = e.sup.NowS()
	e.mu.Unlock()
}
