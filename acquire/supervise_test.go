package acquire

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"quern/rig"
)

// script is a device that a test drives.
type script struct {
	stream rig.Stream
	run    func(ctx context.Context, n int, to Sink) error
	runs   int
}

func (s *script) Name() string          { return "script" }
func (s *script) Streams() []rig.Stream { return []rig.Stream{s.stream} }
func (s *script) Run(ctx context.Context, to Sink) error {
	s.runs++
	return s.run(ctx, s.runs, to)
}

var (
	micStream = rig.Stream{Channel: rig.Microphone, Form: rig.Waveform, Unit: rig.FullScale, RateHz: 1000}
	rmsStream = rig.Stream{Channel: rig.Clamp, Form: rig.RMS, Unit: rig.Ampere}
)

// supervise runs one device for a time in a bubble and returns the supervisor, stopped, and its blocks.
func supervise(t *testing.T, d Device, silentS float64, length time.Duration) (*Supervisor, []rig.Block, []Status) {
	t.Helper()
	s, err := New(time.Now, time.Now(), []Source{{Device: d, SilentS: silentS}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { s.Run(ctx); close(done) }()
	var out []rig.Block
	end := time.After(length)
loop:
	for {
		select {
		case b := <-s.Blocks():
			out = append(out, b)
		case <-end:
			break loop
		}
	}
	st := s.Status()
	cancel()
	<-done
	return s, out, st
}

// steady delivers 10 ms at a time.
func steady(ctx context.Context, to Sink, value func(i int) float64, rate time.Duration) error {
	for i := 0; ; i++ {
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(rate):
		}
		deliver(to, i, value)
	}
}

// deliver delivers the samples of the ith 10 ms.
func deliver(to Sink, i int, value func(i int) float64) {
	x := make([]float64, 10)
	for k := range x {
		x[k] = value(10*i + k)
	}
	to.Samples(rig.Microphone, time.Now(), 0, x)
}

func saw(i int) float64 { return float64(i%7) / 8 }

func TestSilentSourceIsOpenedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &script{stream: micStream}
		d.run = func(ctx context.Context, n int, to Sink) error {
			if n == 1 {
				short, cancel := context.WithTimeout(ctx, 3*time.Second)
				defer cancel()
				_ = steady(short, to, saw, 10*time.Millisecond)
				<-ctx.Done() // hangs without a word
				return nil
			}
			return steady(ctx, to, saw, 10*time.Millisecond)
		}
		_, blocks, st := supervise(t, d, 2, 10*time.Second)
		if d.runs != 2 {
			t.Errorf("opened %d times, want 2", d.runs)
		}
		if st[0].State != Live || st[0].Restarts != 1 || st[0].Gaps != 1 {
			t.Errorf("got %+v, want it live after one restart and one gap", st[0])
		}
		last := 0.0
		for _, b := range blocks {
			if b.StartS < last-1e-6 {
				t.Fatalf("a block at %g s after one at %g s", b.StartS, last)
			}
			last = b.StartS
		}
	})
}

func TestFailingSourceTellsWhyAndThatNothingComes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &script{stream: micStream}
		d.run = func(context.Context, int, Sink) error { return errors.New("no such card: plug it in") }
		_, blocks, st := supervise(t, d, 2, 30*time.Second)
		if st[0].State != Lost || !strings.Contains(st[0].Reason, "plug it in") || st[0].AgeS != -1 {
			t.Errorf("got %+v, want it lost with its reason", st[0])
		}
		if d.runs < 20 || d.runs > 200 {
			t.Errorf("opened %d times in 30 s", d.runs)
		}
		if n := len(blocks); n < 100 || len(blocks[n-1].Samples) > 0 || blocks[n-1].StartS < 29 {
			t.Errorf("%d blocks tell that nothing comes, want them up to 29 s", n)
		}
	})
}

func TestOddSourcesAreTold(t *testing.T) {
	for name, c := range map[string]struct {
		stream rig.Stream
		run    func(ctx context.Context, n int, to Sink) error
		note   string
	}{
		"stuck": {micStream, func(ctx context.Context, _ int, to Sink) error {
			return steady(ctx, to, func(int) float64 { return 0.25 }, 10*time.Millisecond)
		}, "one and the same value"},
		"too fast": {micStream, func(ctx context.Context, _ int, to Sink) error {
			return steady(ctx, to, saw, 5*time.Millisecond)
		}, "where 1000 were expected"},
		"flood of readings": {rmsStream, func(ctx context.Context, _ int, to Sink) error {
			for i := 0; ctx.Err() == nil; i++ {
				time.Sleep(time.Millisecond)
				to.Reading(rig.Clamp, time.Now(), float64(i%3), rig.Unsaid)
			}
			return nil
		}, "where 200 were expected"},
		"one reading for ever": {rmsStream, func(ctx context.Context, _ int, to Sink) error {
			for ctx.Err() == nil {
				time.Sleep(10 * time.Millisecond)
				to.Reading(rig.Clamp, time.Now(), 1.5, rig.Unsaid)
			}
			return nil
		}, "one and the same reading"},
		"well": {micStream, func(ctx context.Context, _ int, to Sink) error {
			return steady(ctx, to, saw, 10*time.Millisecond)
		}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				_, _, st := supervise(t, &script{stream: c.stream, run: c.run}, 2, 12*time.Second)
				if c.note == "" && st[0].Note != "" || !strings.Contains(st[0].Note, c.note) {
					t.Errorf("note %q, want %q", st[0].Note, c.note)
				}
				if st[0].State != Live {
					t.Errorf("state %s", st[0].State)
				}
			})
		})
	}
}

// What was odd is told while it lasts, and a jump of time for a minute: a bench that has come right is ready.
func TestNotesEnd(t *testing.T) {
	pause := func(ctx context.Context, _ int, to Sink) error { // one second is lost, and nobody counts it
		for i := 0; ctx.Err() == nil; i++ {
			time.Sleep(10 * time.Millisecond)
			if i == 500 {
				time.Sleep(time.Second)
			}
			deliver(to, i, saw)
		}
		return nil
	}
	flood := func(ctx context.Context, _ int, to Sink) error {
		for i := 0; ctx.Err() == nil; i++ {
			time.Sleep(10 * time.Millisecond)
			deliver(to, i, saw)
			if i < 1000 {
				deliver(to, i, saw)
			}
		}
		return nil
	}
	for _, c := range []struct {
		name string
		run  func(ctx context.Context, n int, to Sink) error
		at   time.Duration
		note string
	}{
		{"jump", pause, 30 * time.Second, "time jumped"},
		{"jump, long ago", pause, 100 * time.Second, ""},
		{"flood", flood, 9 * time.Second, "where 1000 were expected"},
		{"flood that has ended", flood, 20 * time.Second, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				_, _, st := supervise(t, &script{stream: micStream, run: c.run}, 2, c.at)
				if c.note == "" && st[0].Note != "" || !strings.Contains(st[0].Note, c.note) {
					t.Errorf("note %q, want %q", st[0].Note, c.note)
				}
			})
		})
	}
}

// One source that fails does not stop another.
func TestSourcesStandAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		bad := &script{stream: rmsStream, run: func(context.Context, int, Sink) error { return errors.New("gone") }}
		good := &script{stream: micStream, run: func(ctx context.Context, _ int, to Sink) error {
			return steady(ctx, to, saw, 10*time.Millisecond)
		}}
		s, err := New(time.Now, time.Now(), []Source{{Device: bad, SilentS: 2}, {Device: good, SilentS: 2}})
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(context.Background())
		done := make(chan struct{})
		go func() { s.Run(ctx); close(done) }()
		time.Sleep(5 * time.Second)
		st := s.Status()
		if st[0].State != Lost || st[1].State != Live || !(math.Abs(float64(st[1].Samples)-5000) <= 20) {
			t.Errorf("got %+v", st)
		}
		cancel()
		<-done
	})
}

func TestOneSourceAChannel(t *testing.T) {
	a, b := &script{stream: micStream}, &script{stream: micStream}
	if _, err := New(time.Now, time.Now(), []Source{{Device: a}, {Device: b}}); err == nil {
		t.Error("two sources of the microphone are taken")
	}
}
