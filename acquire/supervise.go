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
			x.SinceS = now - st.stateS
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
	stateS   float64
	lastS    float64 // when something came
	paceS    float64 // usual time between two deliveries
	goneS    float64 // nothing came up to here, and that has been told
	dropped  int64   // samples that found no room
	value    float64 // last sample or reading
	same     float64 // s of samples, or readings, that repeated it
	floodS   float64 // start of the second in which deliveries are counted
	flood    float64
	readingS float64
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
	now := r.sup.NowS()
	for _, st := range r.streams {
		delivered = delivered || st.lastS > r.since
		st.enter(Lost, now, err.Error())
		st.Restarts++
		st.place.restart()
		st.paceS = 0
	}
	return delivered
}

func (st *stream) enter(s State, now float64, reason string) {
	if st.State != s {
		st.State, st.stateS = s, now
	}
	st.Reason = reason
}

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
			st.enter(Late, now, fmt.Sprintf("nothing came for %.1f s", age))
		case (st.State == Late || st.State == Starting || st.State == Lost) && age > r.src.SilentS+3*st.paceS && r.cancel != nil:
			st.enter(Lost, now, fmt.Sprintf("silent for %.1f s, so it is opened again: is it switched on and plugged in?", age))
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

func (r *running) stream(c rig.Channel) *stream {
	for _, st := range r.streams {
		if st.Stream.Channel == c {
			return st
		}
	}
	return nil
}

// came notes that something came.
func (st *stream) came(now float64) {
	if st.lastS > 0 && st.State == Live {
		st.paceS += 0.05 * (now - st.lastS - st.paceS)
	}
	st.lastS = now
	st.enter(Live, now, "")
}

// Samples takes samples of a waveform.
func (r *running) Samples(c rig.Channel, got time.Time, lost int64, samples []float64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	st := r.stream(c)
	if st == nil || len(samples) == 0 {
		return
	}
	now := got.Sub(r.sup.epoch).Seconds()
	st.came(now)
	was := st.place.placed
	if lost += st.dropped; lost > 0 {
		st.Gaps++
		st.Missing += lost
	}
	st.dropped = 0
	if !was && st.Samples > 0 {
		st.Gaps++
	}
	at, jumped := st.place.place(now, lost, len(samples))
	if jumped {
		st.Gaps++
		st.Note = "time jumped: samples were lost without being counted"
	}
	st.repeats(samples, st.place.rateHz)
	st.floods(now, float64(len(samples)), st.place.rateHz)
	st.Status.Samples += int64(len(samples))
	b := rig.Block{Channel: c, StartS: at, Samples: append([]float64(nil), samples...)}
	if !r.sup.send(b) {
		st.dropped += int64(len(samples))
	}
}

// repeats looks for samples that never change. Only how many of the last ones are alike matters.
func (st *stream) repeats(samples []float64, rateHz float64) {
	last, k := samples[len(samples)-1], 0
	for i := len(samples) - 1; i >= 0 && samples[i] == last; i-- {
		k++
	}
	was := st.same
	if k < len(samples) || last != st.value {
		st.same = 0
	}
	st.value = last
	st.same += float64(k) / rateHz
	switch {
	case st.same >= stuckS:
		st.Note = fmt.Sprintf("it has sent one and the same value for %.0f s: muted, not connected, or dead", st.same)
	case was >= stuckS:
		st.Note = ""
	}
}

// floods looks for more than the nominal rate.
func (st *stream) floods(now, n, usualHz float64) {
	if st.floodS == 0 || now-st.floodS > 3 {
		st.floodS, st.flood = now, 0
		return
	}
	st.flood += n
	if s := now - st.floodS; s >= 2 {
		if hz := st.flood / s; hz > floodRatio*usualHz {
			st.Note = fmt.Sprintf("it sends %.0f a second where %.0f were expected: set its rate", hz, usualHz)
		}
		st.floodS, st.flood = now, 0
	}
}

// mostReadingsHz is more than any slow instrument sends.
const mostReadingsHz = 200.0

// Reading takes one reading.
func (r *running) Reading(c rig.Channel, got time.Time, value float64, stable rig.Mark) {
	r.mu.Lock()
	defer r.mu.Unlock()
	st := r.stream(c)
	if st == nil || math.IsNaN(value) || math.IsInf(value, 0) {
		return
	}
	now := got.Sub(r.sup.epoch).Seconds()
	st.came(now)
	st.floods(now, 1, mostReadingsHz)
	if value == st.value && st.Stream.Form != rig.Mass {
		if st.same++; st.same >= sameN {
			st.Note = fmt.Sprintf("it has sent one and the same reading %.0f times: not connected, or dead", st.same)
		}
	} else {
		if st.same >= sameN {
			st.Note = ""
		}
		st.value, st.same = value, 0
	}
	at := max(now-r.src.LatencyS, st.readingS, st.place.floorS)
	st.readingS = at
	st.Status.Samples++
	if !r.sup.send(rig.Block{Channel: c, Readings: []rig.Reading{{AtS: at, Value: value, Stable: stable}}}) {
		st.Missing++
	}
}

// Reject counts a frame that could not be taken.
func (r *running) Reject(c rig.Channel, why string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if st := r.stream(c); st != nil {
		st.Rejects++
		st.Status.Reject = why
	}
}

// Xrun counts a loss of samples.
func (r *running) Xrun(c rig.Channel) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if st := r.stream(c); st != nil {
		st.Xruns++
	}
}

// Alive notes that the device speaks without anything to deliver.
func (r *running) Alive(c rig.Channel, why string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if st := r.stream(c); st != nil {
		now := r.sup.NowS()
		st.lastS = now
		st.enter(Live, now, why)
	}
}
