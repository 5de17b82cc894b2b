// Package detect is the one fold from blocks to result: live and replay run it alike. It puts what
// the sound meter, the current tracker and the scale say in order of time, lets detect/run find the
// runs, and gathers the figures of each.
//
// It has no clock, file or goroutine; time comes with the blocks. How the blocks were cut, and how
// those of different channels interleave, never changes a result.
package detect

import (
	"fmt"
	"slices"
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
	order   []*stream // as they were given

	meter   *sound.Meter
	tracker *motor.Tracker
	pan     *mass.Pan

	machine  *run.Machine  // with a clamp
	listener *run.Listener // with a microphone
	shaker   *run.Shaker   // with only a scale

	cycles   []run.Current
	frames   []heardFrame
	lately   lately
	extras   []*extraBook
	meterS   float64 // end of the level meter's last frame
	given    int     // frames already given to the machine
	seen     seen
	grain    grain
	books    []*books // of the listener, until a run begins in the current; of the machine
	turns    turnBook
	spectra  []motor.Harmonics
	lastRMSS float64
	faults   map[string]*faultBook
	warnings []rig.Warning

	soundOn bool   // the clamp's recording has ended and the sound goes on
	blind   string // code of the warning that says why runs come from the sound although there is a clamp
}

type stream struct {
	rig.Stream
	endS   float64 // end of what has come
	toldS  float64 // up to here it is known that nothing more came
	ended  bool
	course course  // of a sampled stream
	quiet  silence // of readings
}

// New returns an analysis of a session with the given streams under the given settings.
func New(set config.Setup, streams []rig.Stream, trace Trace) (*Analysis, error) {
	set = set.ForAnalysis() // nothing else can make a difference
	a := &Analysis{set: set, trace: trace, seen: newSeen(), streams: map[rig.Channel]*stream{}}
	for _, s := range streams {
		if a.streams[s.Channel] != nil {
			return nil, fmt.Errorf("two streams of %s: expected one a channel", s.Channel)
		}
		a.streams[s.Channel] = &stream{Stream: s, course: course{rateHz: s.RateHz}, quiet: silence{rows: s.Form == rig.RMS}}
		a.order = append(a.order, a.streams[s.Channel])
	}
	var err error
	b := set.Bench
	if s := a.streams[rig.Microphone]; s != nil {
		if s.Form == rig.Waveform {
			if a.meter, err = sound.New(s.RateHz, b.Microphone.FullScaleDB, b.Detect.Sound); err != nil {
				return nil, err
			}
			a.grain.left = int(grainS * s.RateHz)
		}
		if a.meter != nil && !slices.ContainsFunc(streams, func(s rig.Stream) bool { return s.Channel == rig.Clamp }) {
			a.meter.ListenToOctaves()
		}
		a.listener = run.NewListener(set)
		a.books = append(a.books, newBooks(a.listener, b.Detect.Sound, a.meter))
	}
	if s := a.streams[rig.Clamp]; s != nil {
		a.machine = run.NewMachine(set)
		if a.listener != nil {
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
	case s.Form == rig.Waveform:
		a.take(s, b)
	case len(b.Readings) == 0:
		a.nothing(s, b.StartS)
	}
	for _, r := range b.Readings {
		a.reading(s, r)
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
	if c == rig.Microphone && a.meter != nil {
		a.meter.Finish()
		a.hear()
	}
	a.merge()
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
				a.listen(&a.frames[a.given])
				a.given++
			}
			a.machine.Current(c)
			n++
		}
		a.cycles = append(a.cycles[:0], a.cycles[n:]...)
		if a.given > 0 {
			a.frames = append(a.frames[:0], a.frames[a.given:]...)
			a.given = 0
		}
		if a.streams[rig.Clamp].ended && len(a.cycles) == 0 {
			a.hearOn()
		}
	} else {
		a.hearOut()
	}
	for _, b := range a.books {
		b.settle()
	}
}

// listen hands a frame to those who listen beside a clamp.
func (a *Analysis) listen(f *heardFrame) {
	h := heard(f)
	a.machine.Heard(h)
	if len(a.books) > 1 && a.machine.Began() { // runs come from the current then, whatever is heard
		a.listener.Seen()
		a.books = []*books{a.books[1]}
	}
	a.listener.Heard(h)
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

// warnOf warns of run i, from 0.
func (a *Analysis) warnOf(i int, code, text string) {
	a.warnings = append(a.warnings, rig.Warning{Code: code, Text: text, Run: i + 1})
}

func (a *Analysis) channels() []rig.Channel {
	var out []rig.Channel
	for _, s := range a.order {
		out = append(out, s.Channel)
	}
	return out
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
	for _, s := range a.order {
		outlived := s.Channel == rig.Clamp && a.endS(rig.Microphone) > s.endS // by the sound, which is followed alone
		if s.Form != rig.Waveform && !outlived {
			a.nothing(s, a.endS(a.channels()...))
		}
	}
	for _, c := range a.channels() {
		a.End(c)
	}
	a.hearOut()
	found, f := a.choose()
	for _, s := range a.order {
		gaps := s.course.gaps
		if s.Form != rig.Waveform {
			s.quiet.end(a.endS(a.channels()...))
			gaps = s.quiet.gaps
		}
		a.tellGaps(string(s.Channel), gaps)
	}
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
	a.explain(res.Runs)
	res.Warnings = append(res.Warnings, tidy(a.warnings)...)
	return res
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
