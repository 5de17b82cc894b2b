// Package detect is the one fold from blocks to result: live and replay run it alike. It puts what
// the sound meter, the current tracker and the scale say in order of time, lets detect/run find the
// runs, and gathers the figures of each.
//
// It has no clock, file or goroutine; time comes with the blocks. How the blocks were cut, and how
// those of different channels interleave, never changes a result.
package detect

import (
	"fmt"
	"math"
	"sort"

	"quern/config"
	"quern/detect/mass"
	"quern/detect/motor"
	"quern/detect/run"
	"quern/detect/sound"
	"quern/rig"
)

// finder finds runs from one kind of evidence.
type finder interface {
	DecidedS() float64
	Known() [][]run.Interval
	Finish(endS float64) []run.Found
	Warnings() []rig.Warning
}

// Analysis is one session on its way to a result.
type Analysis struct {
	set     config.Setup
	trace   Trace
	series  levels
	streams map[rig.Channel]*stream

	meter   *sound.Meter
	tracker *motor.Tracker
	pan     *mass.Pan

	machine  *run.Machine  // with a clamp
	listener *run.Listener // with a microphone
	shaker   *run.Shaker   // with only a scale

	cycles   []run.Current
	frames   []sound.Frame
	given    int // frames already given to the machine
	books    []*books
	turns    turnBook
	spectra  []motor.Harmonics
	lastRMSS float64
	faults   map[string]int // how many of each kind
	warnings []rig.Warning
}

type stream struct {
	rig.Stream
	endS  float64 // end of what has come
	ended bool
}

// New returns an analysis of a session with the given streams under the given settings.
func New(set config.Setup, streams []rig.Stream, trace Trace) (*Analysis, error) {
	a := &Analysis{set: set, trace: trace, streams: map[rig.Channel]*stream{}}
	for _, s := range streams {
		if a.streams[s.Channel] != nil {
			return nil, fmt.Errorf("two streams of %s: expected one a channel", s.Channel)
		}
		a.streams[s.Channel] = &stream{Stream: s}
	}
	var err error
	b := set.Bench
	if s := a.streams[rig.Microphone]; s != nil {
		if a.meter, err = sound.New(s.RateHz, b.Microphone.FullScaleDB, b.Detect.Sound); err != nil {
			return nil, err
		}
		a.listener = run.NewListener(set)
		a.books = append(a.books, newBooks(a.listener, b.Detect.Sound, a.meter))
	}
	if s := a.streams[rig.Clamp]; s != nil {
		a.machine = run.NewMachine(set)
		if a.meter != nil {
			a.books = append(a.books, newBooks(a.machine, b.Detect.Sound, a.meter))
		}
		if s.Form == rig.Waveform {
			scale := 1.0
			if s.Unit == rig.FullScale {
				scale = b.Clamp.FullScaleA
			}
			// A fundamental below a hundredth of rated current is hum, not worth following.
			if a.tracker, err = motor.New(s.RateHz, scale, b.Supply.FrequencyHz, 0.01*set.Unit.RatedCurrentA); err != nil {
				return nil, err
			}
			if s.Unit == rig.FullScale {
				a.tracker.WatchClipping(b.Detect.Sound.ClipBelowFSDB)
			}
		}
	}
	if s := a.streams[rig.Scale]; s != nil {
		a.pan = mass.New(b.Scale.DivisionG)
		if len(streams) == 1 {
			a.shaker = run.NewShaker(set)
		}
	}
	return a, nil
}

// Push takes the next block of a stream.
func (a *Analysis) Push(b rig.Block) error {
	s := a.streams[b.Channel]
	if s == nil {
		return fmt.Errorf("a block of %s, which the session does not have", b.Channel)
	}
	switch {
	case b.Channel == rig.Microphone:
		a.meter.Push(b.Samples)
		s.endS += float64(len(b.Samples)) / s.RateHz
		a.hear()
	case b.Channel == rig.Clamp && s.Form == rig.Waveform:
		a.tracker.Push(b.Samples)
		s.endS += float64(len(b.Samples)) / s.RateHz
		a.feel()
	case b.Channel == rig.Clamp:
		for _, r := range b.Readings {
			a.read(r)
			s.endS = r.AtS
		}
	case b.Channel == rig.Scale:
		for _, r := range b.Readings {
			p := a.pan.Push(r)
			if a.trace.Mass != nil {
				a.trace.Mass(p.AtS, p.MassG)
			}
			if a.shaker != nil {
				a.shaker.Pan(run.Pan(p))
			}
			s.endS = r.AtS
		}
	}
	a.merge()
	return nil
}

// End says that no more blocks of a channel will come.
func (a *Analysis) End(c rig.Channel) {
	s := a.streams[c]
	if s == nil || s.ended {
		return
	}
	s.ended = true
	if c == rig.Microphone {
		a.meter.Finish()
		a.hear()
	}
	a.merge()
}

// hear takes what the meter has ready.
func (a *Analysis) hear() {
	for _, f := range a.meter.Frames() {
		a.series.add(&f, a.trace.Level)
		a.listener.Heard(heard(f))
		a.frames = append(a.frames, f)
		for _, b := range a.books {
			b.frames = append(b.frames, f)
		}
	}
	for _, f := range a.meter.Bands() {
		for _, b := range a.books {
			b.addBands(f)
		}
	}
	for _, f := range a.meter.Faults() {
		a.fault(f)
	}
}

func heard(f sound.Frame) run.Heard {
	return run.Heard{StartS: f.StartS, EndS: f.EndS, EA: f.EA, EC: f.EC, Dead: f.Still}
}

// feel takes what the tracker has ready.
func (a *Analysis) feel() {
	for _, c := range a.tracker.Cycles() {
		if a.trace.Current != nil {
			a.trace.Current(c.EndS, c.RMSA)
		}
		a.cycles = append(a.cycles, run.Current{StartS: c.StartS, EndS: c.EndS, RMSA: c.RMSA, SwingA: c.SwingA,
			PeakA: c.PeakA, Quarters: c.Quarters, Turns: c.Turns, Locked: c.Locked, Torn: c.Torn, Wave: true})
		a.turns.add(c)
	}
	a.spectra = append(a.spectra, a.tracker.Harmonics()...)
}

// read takes one RMS reading: it stands for the time since the one before.
func (a *Analysis) read(r rig.Reading) {
	from := a.lastRMSS
	if from == r.AtS { // the first reading, at 0
		from = r.AtS - 1e-3
	}
	a.lastRMSS = r.AtS
	if a.trace.Current != nil {
		a.trace.Current(r.AtS, r.Value)
	}
	a.cycles = append(a.cycles, run.Current{StartS: from, EndS: r.AtS, RMSA: r.Value, SwingA: r.Value, PeakA: r.Value * math.Sqrt2})
}

// merge hands on, in order of time, what every channel has reached.
func (a *Analysis) merge() {
	if a.machine != nil {
		n := 0
		for _, c := range a.cycles {
			if !a.heardUntil(c.EndS) {
				break
			}
			for a.given < len(a.frames) && a.frames[a.given].EndS <= c.EndS {
				a.machine.Heard(heard(a.frames[a.given]))
				a.given++
			}
			a.machine.Current(c)
			n++
		}
		a.cycles = append(a.cycles[:0], a.cycles[n:]...)
		a.frames = append(a.frames[:0], a.frames[a.given:]...)
		a.given = 0
	} else {
		a.frames = a.frames[:0]
	}
	for _, b := range a.books {
		b.settle()
	}
}

// heardUntil says whether all sound up to an instant is in.
func (a *Analysis) heardUntil(atS float64) bool {
	s := a.streams[rig.Microphone]
	if s == nil || s.ended {
		return true
	}
	return len(a.frames) > 0 && a.frames[len(a.frames)-1].EndS > atS
}

func (a *Analysis) warn(code, text string) {
	a.warnings = append(a.warnings, rig.Warning{Code: code, Text: text})
}

// endS is the end of the longest of the given channels.
func (a *Analysis) endS(cs ...rig.Channel) float64 {
	end := 0.0
	for _, c := range cs {
		if s := a.streams[c]; s != nil {
			end = max(end, s.endS)
		}
	}
	return end
}

// Finish ends the session and returns its result.
func (a *Analysis) Finish(session string) rig.Result {
	for _, c := range []rig.Channel{rig.Microphone, rig.Clamp, rig.Scale} {
		a.End(c)
	}
	found, f := a.choose()
	res := rig.Result{Session: session, Unit: a.set.Unit.ID, Procedure: a.set.Procedure.ID, Runs: []rig.Run{}, Warnings: []rig.Warning{}}
	var book *books
	for _, b := range a.books {
		b.settleAll()
		if b.finder == f {
			book = b
		}
	}
	for i := range found {
		res.Runs = append(res.Runs, a.runOf(&found[i], book, i))
	}
	if f != nil {
		a.warnings = append(f.Warnings(), a.warnings...)
	}
	a.closingWarnings(found)
	res.Warnings = append(res.Warnings, tidy(a.warnings)...)
	return res
}

// choose finishes every finder and takes the best evidence there is: current, else sound, else the
// shaking of the scale.
func (a *Analysis) choose() ([]run.Found, finder) {
	var heard []run.Found
	if a.listener != nil {
		heard = a.listener.Finish(a.endS(rig.Microphone))
	}
	if a.machine != nil {
		found := a.machine.Finish(a.endS(rig.Clamp))
		if len(found) > 0 || len(heard) == 0 || !a.loudRun(heard) {
			return found, a.machine
		}
		a.warn("clamp-saw-nothing", "a motor was heard and no current was seen: the clamp is not around one conductor, or dead; runs come from the sound, current figures are absent")
		return heard, a.listener
	}
	if a.listener != nil {
		if len(heard) > 0 {
			a.warn("no-current", "no current was recorded: starts and stops come from the sound and are coarser (0.1 s to 0.5 s); load, stalls, overloads and trips are not told")
		}
		return heard, a.listener
	}
	if a.shaker != nil {
		found := a.shaker.Finish(a.endS(rig.Scale))
		a.warn("scale-only", "only a scale was recorded: starts and stops come from the shaking of its pan and are coarse (1.5 s)")
		return found, a.shaker
	}
	return nil, nil
}

// loudRun says whether what was heard was long and loud enough to have been a motor.
func (a *Analysis) loudRun(heard []run.Found) bool {
	for i := range heard {
		if heard[i].OnS() >= 5 {
			if la := a.books[0].tally(i).laeqDB(); la.OK && la.V > a.set.Bench.Detect.Heard.RunningAboveDB {
				return true
			}
		}
	}
	return false
}

// tidy drops repeated warnings and orders them by code.
func tidy(ws []rig.Warning) []rig.Warning {
	seen := map[rig.Warning]bool{}
	var out []rig.Warning
	for _, w := range ws {
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Code < out[j].Code })
	return out
}
