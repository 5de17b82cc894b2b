package live

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"slices"
	"time"

	"quern/detect"
	"quern/rig"
	"quern/rig/session"
	"quern/rig/wave"
)

// recorder is an open session: its folder and its analysis, fed alike.
type recorder struct {
	name, dir string
	w         *session.Writer
	fold      *fold
	load      []EventNow    // what the last look for load found
	warnings  []rig.Warning // what the session states of itself
	told      []Told        // events already told
	state     rig.State     // as it was last shown
	runs      int
	syncedS   float64 // when the last sync was, s since the epoch
	syncedAtS float64 // and up to where the analysis had come, s of the session
	figuredS  float64
	asked     bool // opened by command: it does not close for want of a run
	dropped   bool
}

// recordFrom begins a session at an instant, s since the epoch.
func (e *Engine) recordFrom(fromS float64) (*recorder, error) {
	started := e.opts.Wall().Round(0).Add(-time.Duration((e.sup.NowS() - fromS) * float64(time.Second)))
	f, err := newFold(e.setup, e.streams, fromS)
	if err != nil {
		return nil, err
	}
	var streams []session.Stream
	for _, s := range e.streams {
		x := session.Stream{Stream: s}
		if s.Form == rig.Waveform {
			x.Encoding = encodings[e.setup.Bench.Record.Encoding]
		}
		streams = append(streams, x)
	}
	base := fmt.Sprintf("%s-%s", started.In(e.zone()).Format("20060102-150405"), e.setup.Unit.ID)
	for n := 1; ; n++ {
		name := base
		if n > 1 {
			name = fmt.Sprintf("%s-%d", base, n)
		}
		r := &recorder{name: name, dir: filepath.Join(e.opts.Dir, name), fold: f}
		r.w, err = session.Create(r.dir, session.Head{Session: name, Setup: e.setup, Started: started, Tool: e.opts.Tool,
			Origin: rig.Recorded, Streams: streams, Live: true})
		if errors.Is(err, fs.ErrExist) && n < 1000 {
			continue
		}
		if err != nil {
			return nil, err
		}
		return r, e.noteClock(r)
	}
}

// encodings are those that config allows of recordings: no more bits than an int32 or a float32 has.
var encodings = map[string]wave.Encoding{"pcm16": wave.PCM16, "pcm24": wave.PCM24, "pcm32": wave.PCM32, "float32": wave.Float32}

// take keeps a block and analyses it.
func (r *recorder) take(b rig.Block) error {
	p, ok := r.fold.placed(b)
	if !ok {
		return nil
	}
	if err := r.w.AppendBlock(p); err != nil {
		return err
	}
	return r.fold.a.Push(p)
}

// sameS is how far an event may move and still be the same one, s.
const sameS = 1e-6

// news returns the events that have not been told yet. One that has moved is told again.
func (r *recorder) news(known detect.Now) []Told {
	var out []Told
	for i, ev := range known.Events {
		old := false
		for _, t := range r.told {
			if t.Run == known.Of[i] && t.Event.Kind == ev.Kind && math.Abs(t.Event.AtS.V-ev.AtS.V) < sameS {
				old = true
				break
			}
		}
		if !old {
			t := Told{Event: ev, Run: known.Of[i]}
			r.told = append(r.told, t)
			out = append(out, t)
		}
	}
	return out
}

// counts says whether an event that was just told is new, and not one of load that has moved: those are
// looked for again and again while a run goes on.
func (r *recorder) counts(t Told) bool {
	if !ofLoad(t.Event.Kind) {
		return true
	}
	n := 0
	for _, x := range r.told {
		if x.Run == t.Run && x.Event.Kind == t.Event.Kind {
			n++
		}
	}
	return n <= 1
}

func ofLoad(k rig.Kind) bool { return k == rig.LoadStart || k == rig.LoadEnd }

// events returns the events as they are known now, those of load as they were last looked for.
func (r *recorder) events(n detect.Now, looked bool) []EventNow {
	var out, load []EventNow
	for i, ev := range n.Events {
		if e := (EventNow{Run: n.Of[i], Event: ev}); ofLoad(ev.Kind) {
			load = append(load, e)
		} else {
			out = append(out, e)
		}
	}
	if looked {
		r.load = load
	} else {
		for _, e := range r.load {
			if !slices.ContainsFunc(load, func(x EventNow) bool { return x.Run == e.Run && x.Kind == e.Kind }) {
				load = append(load, e)
			}
		}
	}
	out = append(out, load...)
	slices.SortStableFunc(out, func(a, b EventNow) int { return cmp.Compare(a.AtS.V, b.AtS.V) })
	return out
}

// keepLoad puts what the last look for load found beside what is known otherwise: until the next look the
// motor that was loaded is.
func (r *recorder) keepLoad(n detect.Now, looked bool) detect.Now {
	if !looked && n.State == rig.NoLoad && r.state == rig.Loaded {
		n.State = rig.Loaded
	}
	r.state = n.State
	return n
}

// figures writes a line of what was shown.
func (r *recorder) figures(n detect.Now, seen lastSeen) error {
	return r.w.AppendFigures("shown", n.AtS, n.Runs, session.Named{Name: "laf_db", Figure: n.LevelDB},
		session.Named{Name: "rms_a", Figure: n.CurrentA}, session.Named{Name: "mass_g", Figure: seen.massG})
}

// warn adds to what the session states of itself.
func (r *recorder) warn(code, text string) error {
	w := rig.Warning{Code: code, Text: text}
	r.warnings = append(r.warnings, w)
	return r.w.AddWarning(w)
}

// drop stops keeping waveforms.
func (r *recorder) drop(text string) error {
	r.dropped = true
	w := rig.Warning{Code: "waveforms-dropped", Text: text}
	r.warnings = append(r.warnings, w)
	return r.w.Drop(w)
}

// zone is the time zone of the bench.
func (e *Engine) zone() *time.Location {
	z, _ := rig.Zone(e.setup.Bench.TimeZone) // a Setup is checked
	return z
}

// quantise rounds samples to steps of the recordings' encoding, so that a replay gets what live had.
func (e *Engine) quantise(b rig.Block) {
	enc := encodings[e.setup.Bench.Record.Encoding]
	scale := math.Ldexp(1, enc.Bits()-1)
	for i, v := range b.Samples {
		if enc.Float() {
			b.Samples[i] = float64(float32(v))
			continue
		}
		b.Samples[i] = min(max(math.RoundToEven(v*scale), -scale), scale-1) / scale
	}
}
