package acquire

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"quern/rig"
)

// Constants of supervision. They are the project's own choice.
const (
	goneMargin = 0.3  // s before now up to which a lost source is known to have given nothing
	lateS      = 0.5  // s without anything, beyond the usual pace, that make a source late
	stuckS     = 2.0  // s of one and the same sample that are told
	sameN      = 600  // readings of one and the same value that are told, for channels that never rest
	floodRatio = 1.25 // times the nominal rate that are told
	jumpToldS  = 60.0 // s for which a jump of time is told
	queued     = 4096 // blocks on their way to the analysis
)

// pauses between two tries to open a source again, by how long it has been lost: a plug that is put back
// is found at once, one that stays out costs little.
var pauses = []struct {
	lostS float64
	pause time.Duration
}{{10, 80 * time.Millisecond}, {120, time.Second}, {math.Inf(1), 5 * time.Second}}

// Source is a device with what the bench says about it.
type Source struct {
	Device   Device
	SilentS  float64 // so long without anything and it is opened again
	LatencyS float64 // age of what it delivers
}

// Supervisor runs sources. What they deliver comes out of Blocks, placed in seconds since the epoch.
type Supervisor struct {
	clock  Clock
	epoch  time.Time
	tick   time.Duration
	blocks chan rig.Block
	runs   []*running
}

// New returns a supervisor of the sources; epoch is 0 s. Two sources for one channel are an error.
func New(clock Clock, epoch time.Time, sources []Source) (*Supervisor, error) {
	s := &Supervisor{clock: clock, epoch: epoch, tick: 100 * time.Millisecond, blocks: make(chan rig.Block, queued)}
	seen := map[rig.Channel]string{}
	for _, src := range sources {
		r := &running{sup: s, src: src}
		for _, st := range src.Device.Streams() {
			if other, twice := seen[st.Channel]; twice {
				return nil, fmt.Errorf("%s and %s both deliver %s: keep one of them", other, src.Device.Name(), st.Channel)
			}
			seen[st.Channel] = src.Device.Name()
			r.streams = append(r.streams, &stream{Status: Status{Stream: st, Device: src.Device.Name(), State: Starting, AgeS: -1},
				place: placer{rateHz: st.RateHz, latencyS: src.LatencyS}})
		}
		s.runs = append(s.runs, r)
	}
	return s, nil
}

// Streams returns what the sources deliver, in their order.
func (s *Supervisor) Streams() []rig.Stream {
	var out []rig.Stream
	for _, r := range s.runs {
		for _, st := range r.streams {
			out = append(out, st.Stream)
		}
	}
	return out
}

// Device returns what delivers a channel; nil: nothing does.
func (s *Supervisor) Device(c rig.Channel) Device {
	for _, r := range s.runs {
		if r.stream(c) != nil {
			return r.src.Device
		}
	}
	return nil
}

// Blocks delivers what comes. It is never closed.
func (s *Supervisor) Blocks() <-chan rig.Block { return s.blocks }

// Queued returns how many blocks wait to be taken.
func (s *Supervisor) Queued() int { return len(s.blocks) }

// NowS returns the present instant, s since the epoch.
func (s *Supervisor) NowS() float64 { return s.clock().Sub(s.epoch).Seconds() }

// Run runs all sources until ctx ends, and returns when every one has stopped.
func (s *Supervisor) Run(ctx context.Context) {
	var all sync.WaitGroup
	for _, r := range s.runs {
		all.Add(1)
		go func() { defer all.Done(); r.keep(ctx) }()
	}
	s.watch(ctx)
	all.Wait()
}

// Status returns how every stream does now.
func (s *Supervisor) Status() []Status {
	now := s.NowS()
	var out []Status
	for _, r := range s.runs {
		r.mu.Lock()
		for _, st := range r.streams {
			x := st.Status
			if st.lastS > 0 {
				x.AgeS = max(0, now-st.lastS)
			}
			x.Note = st.note(now)
			x.DriftPPM, x.Drifts = st.place.driftPPM()
			out = append(out, x)
		}
		r.mu.Unlock()
	}
	return out
}

// running is one source at work. mu guards the streams.
type running struct {
	sup    *Supervisor
	src    Source
	mu     sync.Mutex
	cancel context.CancelCauseFunc // of the present Run; nil between two
	since  float64                 // when it was opened

	streams []*stream
}

type stream struct {
	Status
	place    placer
	lastS    float64 // when something came
	paceS    float64 // usual time between two deliveries
	goneS    float64 // nothing came up to here, and that has been told
	dropped  int64   // samples that found no room
	value    float64 // last sample or reading
	same     float64 // s of samples, or readings, that repeated it
	floodS   float64 // start of the second in which deliveries are counted
	flood    float64
	readingS float64
	stuck    string  // that it repeats itself, while it does
	flooding string  // that it sends too much, while it does
	jumpedS  float64 // when its time jumped last; 0: never
}

func (r *running) keep(ctx context.Context) {
	lostS := math.NaN() // since when it has been lost
	for ctx.Err() == nil {
		run, cancel := context.WithCancelCause(ctx)
		r.begin(cancel)
		err := r.src.Device.Run(run, r)
		cause := context.Cause(run)
		cancel(nil)
		if ctx.Err() != nil {
			return
		}
		if err == nil {
			err = errors.New("it ended by itself")
			if cause != nil {
				err = cause
			}
		}
		if delivered := r.lose(err); delivered || math.IsNaN(lostS) {
			lostS = r.sup.NowS()
		}
		pause := pauses[0].pause
		for i := len(pauses) - 1; i >= 0 && r.sup.NowS()-lostS <= pauses[i].lostS; i-- {
			pause = pauses[i].pause
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(pause):
		}
	}
}

func (r *running) begin(cancel context.CancelCauseFunc) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.cancel, r.since = cancel, r.sup.NowS()
}

// lose notes that the source has stopped, and returns whether it had delivered anything.
func (r *running) lose(err error) (delivered bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.cancel = nil
	for _, st := range r.streams {
		delivered = delivered || st.lastS > r.since
		st.enter(Lost, err.Error())
		st.Restarts++
		st.place.restart()
		st.paceS = 0
	}
	return delivered
}

func (st *stream) enter(s State, reason string) { st.State, st.Reason = s, reason }

// watch looks at the age of every stream: a silent source is opened again, and while one is lost the
// analysis is told that nothing comes.
func (s *Supervisor) watch(ctx context.Context) {
	t := time.NewTicker(s.tick)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
			for _, r := range s.runs {
				r.look()
			}
		}
	}
}

func (r *running) look() {
	r.mu.Lock()
	defer r.mu.Unlock()
	now := r.sup.NowS()
	for _, st := range r.streams {
		age := now - max(st.lastS, r.since)
		switch {
		case st.State == Live && age > lateS+3*st.paceS:
			st.enter(Late, fmt.Sprintf("nothing came for %.1f s", age))
		case (st.State == Late || st.State == Starting || st.State == Lost) && age > r.src.SilentS+3*st.paceS && r.cancel != nil:
			st.enter(Lost, fmt.Sprintf("silent for %.1f s, so it is opened again: is it switched on and plugged in?", age))
			r.cancel(errors.New(st.Reason))
			r.cancel = nil
		}
		if gone := now - goneMargin - r.src.LatencyS; st.State == Lost || st.State == Starting {
			if !st.place.placed && gone > st.goneS+0.1 && gone > st.place.floorS {
				st.goneS = gone
				st.place.floorS = gone
				r.sup.send(rig.Block{Channel: st.Stream.Channel, StartS: gone})
			}
		}
	}
}

// send hands a block on, and says whether there was room.
func (s *Supervisor) send(b rig.Block) bool {
	select {
	case s.blocks <- b:
		return true
	default:
		return false
	}
}
