// Package live is the daemon: it takes what the sources deliver, runs the same analysis as a replay,
// opens a session at a motor's start with what was kept in memory before it, and tells the world.
//
// One goroutine, Engine.Run, owns the analysis and the session. Everybody else sees snapshots.
package live

import (
	"context"
	"errors"
	"log/slog"
	"math"
	"slices"
	"sync"
	"time"

	"quern/acquire"
	"quern/config"
	"quern/detect"
	"quern/rig"
)

// Engine is the daemon's heart.
type Engine struct {
	opts    Options
	sup     *acquire.Supervisor
	streams []rig.Stream
	asked   chan request

	hasScale bool
	decides  bool // there is a clamp or a microphone, which tell runs

	// Owned by Run.
	setup   config.Setup
	ring    ring
	watch   *fold
	rec     *recorder
	wall    wallClock
	looked  float64 // when the analysis was last asked, s since the epoch
	loaded  float64 // and for load
	disked  float64
	idle    float64 // when the idle analysis began
	closed  float64 // when the last session closed: the next one begins no earlier
	tried   float64 // when a session could not be opened or kept last
	pauseS  float64 // after which one is tried again
	barred  bool    // the folder of the sessions could not be written to when it was last looked at
	lastDir string  // the folder of the last session
	last    lastSeen
	known   detect.Now // of the open session, or of the idle analysis
	pan     pan
	checks  []CheckNow // that stand on record; never changed in place, for snapshots share it
	plugged sourceLog

	mu   sync.Mutex
	snap Snapshot
	tot  totals
}

// ErrNoDevice says that a bench has nothing to listen to.
var ErrNoDevice = errors.New("bench.toml describes no device: set microphone.device.kind, clamp.device.kind or scale.device.kind; quern devices shows what is plugged in")

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
	e := &Engine{opts: o, sup: sup, disked: math.Inf(-1), streams: sup.Streams(), asked: make(chan request), setup: o.Setup, plugged: sourceLog{}}
	e.hasScale, e.decides = e.has(rig.Scale), e.has(rig.Clamp) || e.has(rig.Microphone)
	e.pan = newPan(o.Setup)
	e.checks = checksOn(o.Dir, o.Setup.Bench.Name, e.day())
	e.last.extra = map[rig.Channel]float64{}
	e.tot.events = map[rig.Kind]int64{}
	e.ring = ring{keepS: o.Setup.Bench.Record.PreRollS + 2, single: o.Setup.Bench.Record.Encoding != "pcm32"}
	if len(e.streams) == 0 {
		return nil, ErrNoDevice
	}
	if _, err := newFold(e.setup, e.streams, 0); err != nil {
		return nil, err
	}
	return e, nil
}

// has says whether there is a source for a channel.
func (e *Engine) has(c rig.Channel) bool {
	return slices.ContainsFunc(e.streams, func(s rig.Stream) bool { return s.Channel == c })
}

// tickS is how often the analysis is asked what it knows, s of the sources' time.
const (
	tickS   = 0.04
	loadS   = 1.0   // and for load_start and load_end, which costs more
	renewS  = 600.0 // the idle analysis is begun afresh, so that it stays small
	diskS   = 5.0
	figureS = 1.0 // between two lines of figures in the journal

	loadParts = 600 // of a run between two looks for load, at least: each goes over the whole run
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
			got := e.serve(r)
			e.looked = math.Inf(-1) // whoever is answered finds it in the next snapshot
			e.look()
			r.answer <- got
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
	e.record(b)
	if b.Channel == rig.Scale {
		e.weighIn(b) // once it is kept: a weighing may open a session, which begins with what is kept
	}
}

// record keeps and analyses a block.
func (e *Engine) record(b rig.Block) {
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

// rewatch begins the idle analysis afresh, with what the ring holds. While that is nothing, as just after a session, it
// waits for what comes: an analysis begun at 0 s would be given all the time since the daemon's start as a gap.
func (e *Engine) rewatch() {
	if e.ring.empty() {
		e.watch = nil
		return
	}
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
	e.tellSources()
	load := now-e.loaded >= max(loadS, e.known.OnS/loadParts)
	if load {
		e.loaded = now
	}
	var known detect.Now
	switch {
	case e.rec != nil:
		known = e.rec.fold.a.Now(load)
		e.knows(known)
		known = e.rec.keepLoad(known, load)
		e.tell(known)
		if e.rec != nil {
			e.keep(known, now)
		}
	case e.watch != nil:
		known = e.watch.a.Now(false)
		e.knows(known)
		if known.Runs > 0 {
			if !e.barred && now-e.tried >= e.pauseS {
				e.open(e.watch.baseS+firstStart(known), "a motor started")
			}
		} else if now-e.idle > renewS {
			e.rewatch()
		}
	}
	e.readDrained(now)
	e.publish(known, now, load)
}

// knows notes what the analysis knows.
func (e *Engine) knows(known detect.Now) {
	e.known = known
	e.followMotor(known)
}

func firstStart(n detect.Now) float64 {
	for _, ev := range n.Events {
		if ev.Kind == rig.MotorStart {
			return ev.AtS.V
		}
	}
	return n.StartS
}

// tell appends, logs and counts what has become known.
func (e *Engine) tell(known detect.Now) {
	news := e.rec.news(known)
	for _, t := range news {
		t.EpochS = e.rec.fold.baseS + t.Event.AtS.V
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
		if err := e.syncBeside(e.sup.NowS(), known.AtS); err != nil {
			e.broken(err)
		}
	}
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }
