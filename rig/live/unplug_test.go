package live

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"quern/acquire"
	"quern/acquire/sim"
	"quern/acquire/simulated"
	"quern/rig"
)

// hub lets a simulated bench drive one plug a channel, so that each can be pulled on its own.
type hub struct {
	bench *simulated.Bench
	plugs []*plug
}

// plug is one source that can be pulled and put back.
type plug struct {
	stream rig.Stream
	mu     sync.Mutex
	sink   acquire.Sink
	pulled chan struct{} // closed while it is out
	out    bool
	outS   []time.Time // when it was pulled and put back, in turn
	back   []time.Time
}

var errPulled = errors.New("no such device: it was unplugged; put the plug back")

func newHub(bench *simulated.Bench) *hub {
	h := &hub{bench: bench}
	for _, s := range bench.Streams() {
		h.plugs = append(h.plugs, &plug{stream: s, pulled: make(chan struct{})})
	}
	return h
}

func (h *hub) run(ctx context.Context) { _ = h.bench.Run(ctx, h) }

func (h *hub) sources() []acquire.Source {
	var out []acquire.Source
	for _, p := range h.plugs {
		out = append(out, acquire.Source{Device: p, SilentS: 2})
	}
	return out
}

func (h *hub) plug(c rig.Channel) *plug {
	for _, p := range h.plugs {
		if p.stream.Channel == c {
			return p
		}
	}
	return nil
}

func (h *hub) Samples(c rig.Channel, got time.Time, lost int64, x []float64) {
	if s := h.plug(c).there(); s != nil {
		s.Samples(c, got, lost, x)
	}
}
func (h *hub) Reading(c rig.Channel, got time.Time, v float64, m rig.Mark) {
	if s := h.plug(c).there(); s != nil {
		s.Reading(c, got, v, m)
	}
}
func (h *hub) Reject(rig.Channel, string) {}
func (h *hub) Xrun(rig.Channel)           {}
func (h *hub) Alive(rig.Channel, string)  {}

func (p *plug) there() acquire.Sink {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.sink
}

func (p *plug) Name() string          { return "plug of the " + string(p.stream.Channel) }
func (p *plug) Streams() []rig.Stream { return []rig.Stream{p.stream} }

func (p *plug) Run(ctx context.Context, to acquire.Sink) error {
	p.mu.Lock()
	if p.out {
		p.mu.Unlock()
		return errPulled
	}
	p.sink = to
	pulled := p.pulled
	p.mu.Unlock()
	defer func() { p.mu.Lock(); p.sink = nil; p.mu.Unlock() }()
	select {
	case <-ctx.Done():
		return nil
	case <-pulled:
		return errPulled
	}
}

func (p *plug) pull() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.out, p.sink = true, nil
	p.outS = append(p.outS, time.Now())
	close(p.pulled)
}

func (p *plug) putBack() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.out, p.pulled = false, make(chan struct{})
	p.back = append(p.back, time.Now())
}

// TestUnplug pulls and puts back each source at random instants of simulated sessions: the recording
// goes on, the gap is on record, nothing is made up, and live and replay agree. QUERN_UNPLUGS sets how
// many sessions there are.
func TestUnplug(t *testing.T) {
	n := 9
	if s := os.Getenv("QUERN_UNPLUGS"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	} else if testing.Short() {
		n = 3
	}
	channels := []rig.Channel{rig.Clamp, rig.Microphone, rig.Scale}
	for i := range n {
		seed := uint64(i/3 + 1)
		c := channels[i%3]
		t.Run(fmt.Sprintf("%s-%d", c, seed), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { unplug(t, seed, c) })
		})
	}
}

func unplug(t *testing.T, seed uint64, c rig.Channel) {
	names := []string{"plain", "stall-and-trip", "lull", "overload", "pause", "pm-motor", "stall-frees-itself", "universal-motor"}
	sc := scenario(t, names[seed%uint64(len(names))])(seed)
	if os.Getenv("QUERN_UNPLUGS") == "" {
		sc.Sound.RateHz, sc.Current.RateHz = 12000, 4000
	}
	d, err := simulated.New(time.Now, seed, func(uint64) sim.Scenario { return sc })
	if err != nil {
		t.Fatal(err)
	}
	one, err := sim.New(sc)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(seed, uint64(len(c))))
	h := newHub(d)
	if h.plug(c) == nil {
		t.Fatalf("the scenario has no %s", c)
	}
	set := d.Setup()
	set.Bench.Record.CloseAfter = 1000
	b := start(t, set, nil, h.sources()...)
	ctx, cancel := context.WithCancel(context.Background())
	b.wait.Add(1)
	go func() { defer b.wait.Done(); h.run(ctx) }()
	length := one.Seconds()
	at := 2 + r.Float64()*(length-4)
	out := 0.3 + r.Float64()*6
	time.Sleep(time.Duration(at * float64(time.Second)))
	h.plug(c).pull()
	time.Sleep(time.Duration(out * float64(time.Second)))
	h.plug(c).putBack()
	time.Sleep(time.Duration(max(length-at-out-0.5, 0.5) * float64(time.Second)))
	cancel()
	b.stop()
	if len(b.closed) != 1 {
		t.Fatalf("%d sessions, want 1", len(b.closed))
	}
	b.same()
	res := b.closed[0].res

	// The session may have begun later than the bench did.
	offset := sessionStart(t, b)
	p := h.plug(c)
	fromS, toS := p.outS[0].Sub(b.epoch).Seconds()-offset, p.back[0].Sub(b.epoch).Seconds()-offset
	told := false
	for _, w := range res.Warnings {
		_, text, ok := strings.Cut(w.Text, "from ")
		if w.Code != string(c)+"-gap" || !ok {
			continue
		}
		if i := strings.Index(text, "from "); i >= 0 { // "nothing came from the clamp from 1 to 2 s"
			text = text[i:]
		}
		var f, to, s float64
		if _, err := fmt.Sscanf(text, "from %f to %f s (%f", &f, &to, &s); err != nil {
			continue
		}
		if math.Abs(f-fromS) < 0.2 && math.Abs(to-toS) < 0.2 {
			told = true
		}
	}
	slow := p.stream.Form != rig.Waveform && toS-fromS < 3
	if !told && !slow && fromS > 0 {
		t.Errorf("the gap of the %s from %.3f to %.3f s is not on record: %v", c, fromS, toS, res.Warnings)
	}
	back := toS + 1
	truth := one.Truth()
	for _, run := range res.Runs {
		for _, e := range run.Events {
			if e.Sure.V <= 0.3 {
				continue // it is said to be uncertain
			}
			if e.AtS.V > fromS-1 && e.AtS.V < back {
				// In the gap an instant cannot be known well, but nothing may switch that did not.
				switches := e.Kind == rig.MotorStart || e.Kind == rig.MotorStop || e.Kind == rig.Trip
				if switches && !switched(&truth, fromS+offset-1, back+offset) {
					t.Errorf("a false %s in the gap of the %s, %.2f to %.2f s: %s", e.Kind, c, fromS, toS, e.Evidence)
				}
				continue
			}
			if !happened(&truth, e, e.AtS.V+offset) {
				t.Errorf("a false %s at %.3f s (gap of the %s %.2f to %.2f s): %s", e.Kind, e.AtS.V, c, fromS, toS, e.Evidence)
			}
		}
	}
}

// sessionStart returns when the session began, s since the bench did.
func sessionStart(t *testing.T, b *bench) float64 {
	t.Helper()
	if len(b.told) == 0 {
		t.Fatal("no event was told")
	}
	return b.told[0].EpochS - b.told[0].Event.AtS.V
}

// switched says whether current truly began or ceased to flow between two instants.
func switched(truth *sim.Truth, fromS, toS float64) bool {
	for _, run := range truth.Runs {
		for _, x := range run.Events {
			if (x.Kind == rig.MotorStart || x.Kind == rig.MotorStop || x.Kind == rig.Trip) && x.AtS.V > fromS && x.AtS.V < toS {
				return true
			}
		}
	}
	return false
}

// happened says whether an event is in the truth, as near as it says itself and some for load.
func happened(truth *sim.Truth, e rig.Event, atS float64) bool {
	near := max(0.3, 2*e.WithinS.V)
	if e.Kind == rig.LoadStart || e.Kind == rig.LoadEnd {
		near = 6
	}
	for _, run := range truth.Runs {
		for _, x := range run.Events {
			if x.Kind == e.Kind && math.Abs(x.AtS.V-atS) < near {
				return true
			}
		}
	}
	return false
}

// TestPlugIsLogged: the log says when a plug was out and when it was back, once each.
func TestPlugIsLogged(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d, _ := simulatedSource(t, light(t, "plain"))
		h := newHub(d)
		var log bytes.Buffer
		b := start(t, d.Setup(), func(o *Options) { o.Log = slog.New(slog.NewTextHandler(&log, nil)) }, h.sources()...)
		ctx, cancel := context.WithCancel(context.Background())
		b.wait.Add(1)
		go func() { defer b.wait.Done(); h.run(ctx) }()
		time.Sleep(4 * time.Second)
		h.plug(rig.Clamp).pull()
		time.Sleep(15 * time.Second)
		h.plug(rig.Clamp).putBack()
		time.Sleep(15 * time.Second)
		cancel()
		b.stop()
		text := log.String()
		if lost, live := strings.Count(text, `msg="a source is lost; it is opened again and again" channel=clamp`), strings.Count(text, `msg="a source delivers" channel=clamp`); lost != 1 || live != 2 {
			t.Errorf("lost %d times, delivering %d times, want 1 and 2:\n%s", lost, live, text)
		}
		if n := strings.Count(text, `msg="a source delivers"`); n != len(b.engine.streams)+1 {
			t.Errorf("%d sources deliver, want each once and the clamp twice", n)
		}
	})
}
