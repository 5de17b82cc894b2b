package series

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

// The series of a session, by name; those of extra channels are [Extra] and the channel.
const (
	Level        = "level"         // A-weighted level, time weighting F, dB
	Waveform     = "waveform"      // sound pressure, Pa
	Current      = "current"       // instantaneous current, A; RMS where the clamp gives nothing else
	RMS          = "rms"           // half-cycle RMS of the current, A
	Mass         = "mass"          // indication of the scale, g
	ThirdOctaves = "third-octaves" // levels of the bands, dB
	Extra        = "extra:"
)

// Session is a sealed session opened for looking at. It is safe for use by several goroutines at once.
type Session struct {
	dir      string
	ses      *session.Session
	manifest session.Manifest
	set      config.Setup
	key      string // names what is derived from it
	store    store
	secondsS float64

	waves   map[string]*waveform // by the name of the series
	series  map[string]*series
	octaves *octaves // nil: there are no samples of a microphone
	order   []string // names of the series, for people
	streams []StreamNow

	turn   chan struct{}
	ctx    context.Context // ends with Close
	stop   context.CancelFunc
	wait   sync.WaitGroup
	whole  *Job // everything is derived
	cached bool
}

// StreamNow tells what was recorded of a channel, and when nothing came.
type StreamNow struct {
	Channel  rig.Channel  `json:"channel"`
	Form     rig.Form     `json:"form"`
	Unit     rig.Unit     `json:"unit"`
	RateHz   float64      `json:"rate_hz,omitempty"`
	Encoding string       `json:"encoding,omitempty"`
	Gaps     [][2]float64 `json:"gaps"`
}

// Open opens the session folder dir. What is derived from it is looked for, and kept, in the folder cache;
// "": nowhere. If it is not there it is derived in the background, while series already tell what there is.
// A session that is not sealed is refused.
func Open(dir, cache string) (*Session, error) {
	return OpenInTurn(dir, cache, make(chan struct{}, 1))
}

// OpenInTurn does the same for sessions that share a channel of room for one (or more): so many of them are
// derived at a time.
func OpenInTurn(dir, cache string, turn chan struct{}) (*Session, error) {
	s, err := openWith(dir, store{cache, mostStored}, turn)
	if err != nil {
		return nil, err
	}
	if s.store.load(s) == nil {
		s.cached = true
		s.endJobs(nil)
		s.whole.End(nil)
		return s, nil
	}
	s.wait.Add(1)
	go func() {
		defer s.wait.Done()
		s.whole.End(s.derive(s.ctx))
	}()
	return s, nil
}

// OpenRecordings opens a session for its recordings alone: Streams, Sampled, Clip and Excerpt. Nothing is derived.
func OpenRecordings(dir string) (*Session, error) {
	s, err := openWith(dir, store{}, nil)
	if err == nil {
		s.whole.End(nil)
	}
	return s, err
}

func openWith(dir string, st store, turn chan struct{}) (*Session, error) {
	ses, err := session.Open(dir)
	if err != nil {
		return nil, err
	}
	s := &Session{dir: dir, ses: ses, manifest: ses.Manifest(), set: ses.Setup(), store: st, turn: turn,
		waves: map[string]*waveform{}, series: map[string]*series{}, whole: NewJob()}
	if s.manifest.State != session.Sealed {
		return nil, mark(ErrUnsealed, "session %s is not sealed: it is being recorded, or stopped without its end being written; look at it once it is closed, or seal it with 'quern recover'", s.manifest.Session)
	}
	s.key = keyOf(filepath.Base(dir), s.manifest.Self, s.set)
	s.ctx, s.stop = context.WithCancel(context.Background())
	if err := s.openStreams(); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// keyOf names what is derived from a session under its settings.
func keyOf(name, sealed string, set config.Setup) string {
	h := sha256.Sum256(fmt.Appendf(nil, "%d\n%s\n%s\n%s\n", storeVersion, name, sealed, session.SettingsSum(set.ForAnalysis())))
	return hex.EncodeToString(h[:8])
}

// openStreams opens the recordings and reads what the journal holds of them.
func (s *Session) openStreams() error {
	j, err := readJournal(s.ses)
	if err != nil {
		return err
	}
	for _, e := range s.manifest.Streams {
		now := StreamNow{Channel: e.Channel, Form: e.Form, Unit: e.Unit, RateHz: e.RateHz, Encoding: e.Encoding, Gaps: [][2]float64{}}
		var gaps []span
		if e.Form == rig.Waveform {
			name := filepath.Join(s.dir, filepath.FromSlash(e.File))
			w, err := openWaveform(name, e, j.anchors[e.Channel])
			if err != nil {
				return err
			}
			w.factor, w.unit = factorOf(w.stream, s.set)
			s.addWaveform(e.Channel, w)
			gaps, s.secondsS = w.base.gaps(), max(s.secondsS, w.base.endS)
		} else {
			x := s.addReadings(e, j.readings[e.Channel])
			gaps = x.gaps
			if k := len(x.at) - 1; k >= 0 {
				s.secondsS = max(s.secondsS, x.at[k])
			}
		}
		for _, g := range gaps {
			now.Gaps = append(now.Gaps, [2]float64{milli(g.fromS), milli(g.toS)})
		}
		s.streams = append(s.streams, now)
	}
	slices.SortStableFunc(s.order, func(a, b string) int { return rankOf(a) - rankOf(b) })
	return nil
}

func rankOf(name string) int {
	if i := slices.Index([]string{Level, ThirdOctaves, Waveform, Current, RMS, Mass}, name); i >= 0 {
		return i
	}
	return 100
}

func (s *Session) addWaveform(c rig.Channel, w *waveform) {
	switch c {
	case rig.Microphone:
		s.waves[Waveform] = w
		s.series[Level] = newSeries("dB")
		s.series[Level].isLevel = true
		s.series[Level].gaps = w.base.gaps()
		s.octaves = newOctaves()
		s.order = append(s.order, Waveform, Level, ThirdOctaves)
	case rig.Clamp:
		s.waves[Current] = w
		s.series[RMS] = newSeries("A")
		s.series[RMS].gaps = w.base.gaps()
		s.order = append(s.order, Current, RMS)
	default: // no analysis knows it; it can still be looked at
		s.waves[Extra+string(c)] = w
		s.order = append(s.order, Extra+string(c))
	}
}

func (s *Session) addReadings(e session.StreamEntry, r *readings) *series {
	x := newSeries(string(e.Unit))
	if r != nil {
		x.points = r.points(e.Form == rig.Level)
	}
	x.job.End(nil)
	name := Extra + string(e.Channel)
	switch {
	case e.Channel == rig.Microphone:
		x.isLevel, name = true, Level
	case e.Channel == rig.Clamp:
		s.series[Current], name = x, RMS
		s.order = append(s.order, Current)
	case e.Channel == rig.Scale:
		name = Mass
	}
	s.series[name] = x
	s.order = append(s.order, name)
	return x
}

// Seconds returns how long the session lasted.
func (s *Session) Seconds() float64 { return s.secondsS }

// Channels returns the names of the series that the session has.
func (s *Session) Channels() []string { return slices.Clone(s.order) }

// Wait returns when everything is derived, or with the context's error.
func (s *Session) Wait(ctx context.Context) error {
	select {
	case <-s.whole.Done():
		return s.whole.Err()
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Close stops what is being derived and closes the files. Nothing may be asked afterwards.
func (s *Session) Close() error {
	s.stop()
	s.wait.Wait()
	var all []error
	for _, w := range s.waves {
		all = append(all, w.close())
	}
	return errors.Join(all...)
}

// Bytes is about what the session takes in memory.
func (s *Session) Bytes() int64 {
	n := int64(1 << 20)
	for _, w := range s.waves {
		n += 12 * w.blocks()
	}
	for _, x := range s.series {
		x.mu.RLock()
		n += 20 * int64(cap(x.at))
		x.mu.RUnlock()
	}
	if o := s.octaves; o != nil {
		o.mu.RLock()
		n += 8 * int64(cap(o.covered))
		o.mu.RUnlock()
	}
	return n
}

// Envelope returns a series between two instants in at most so many columns. While it is being derived,
// columns that are not there yet are empty and Progress says so.
func (s *Session) Envelope(ctx context.Context, channel string, fromS, toS float64, points int) (Envelope, error) {
	if w := s.waves[channel]; w != nil {
		e, err := w.envelope(fromS, toS, points)
		if err == nil && e.Progress < 1 {
			if err = w.job.Await(ctx); err == nil {
				e, err = w.envelope(fromS, toS, points)
			}
		}
		e.Channel = channel
		return e, err
	}
	x := s.series[channel]
	if x == nil {
		return Envelope{}, mark(ErrAbsent, "found channel %q, expected one that the session has: %s", clip40(channel), strings.Join(s.order, ", "))
	}
	if err := x.job.Await(ctx); err != nil {
		return Envelope{}, err
	}
	e := x.envelope(fromS, toS, points)
	e.Channel = channel
	return e, nil
}

// Octaves returns the spectrogram between two instants in at most so many columns.
func (s *Session) Octaves(ctx context.Context, fromS, toS float64, points int) (Octaves, error) {
	if s.octaves == nil {
		return Octaves{}, mark(ErrAbsent, "the session has no samples of a microphone, and so no third-octave bands")
	}
	if err := s.octaves.job.Await(ctx); err != nil {
		return Octaves{}, err
	}
	return s.octaves.view(fromS, toS, points), nil
}

// clip40 shortens what is quoted in a message.
func clip40(s string) string {
	if len(s) > 40 {
		s = strings.ToValidUTF8(s[:40], "") + "..."
	}
	return s
}
