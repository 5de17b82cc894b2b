package session

import (
	"errors"
	"path/filepath"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

// slow is a disk whose syncs wait until they are let go on, once it is slow.
type slow struct {
	osDisk
	slow  bool
	begun chan string // the name of a file, when its sync begins
	let   chan error  // what comes of it
}

type slowFile struct {
	file
	disk *slow
	name string
}

func (d *slow) Create(path string) (file, error) {
	f, err := d.osDisk.Create(path)
	return &slowFile{f, d, filepath.Base(path)}, err
}

func (f *slowFile) Sync() error {
	if !f.disk.slow {
		return f.file.Sync()
	}
	f.disk.begun <- f.name
	if err := <-f.disk.let; err != nil {
		return err
	}
	return f.file.Sync()
}

// slowly begins a session on a disk that is slow from then on.
func slowly(t *testing.T) (dir string, d *slow, w *Writer, add func(from, to int)) {
	t.Helper()
	d = &slow{begun: make(chan string), let: make(chan error)}
	dir = filepath.Join(t.TempDir(), "s")
	head := testHead(Stream{microphone, wave.PCM16}, Stream{scale, 0})
	head.Live = true
	w, err := create(d, dir, head)
	if err != nil {
		t.Fatal(err)
	}
	d.slow = true
	x := noise(4000)
	return dir, d, w, func(from, to int) {
		t.Helper()
		at := float64(from) / microphone.RateHz
		err := w.AppendBlock(rig.Block{Channel: rig.Microphone, StartS: at, Samples: x[from:to]})
		if err == nil {
			err = w.AppendReading(rig.Scale, rig.Reading{AtS: at, Value: float64(from)})
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// A sync beside holds up nothing: what is appended while it goes on is kept, and is in the next one.
func TestSyncBeside(t *testing.T) {
	dir, d, w, add := slowly(t)
	beside := func(want bool) (over chan bool) {
		t.Helper()
		over = make(chan bool, 1)
		if begun, err := w.SyncBeside(func() { over <- true }); begun != want || err != nil {
			t.Fatalf("a sync has begun: %v (%v), want %v", begun, err, want)
		}
		return over
	}
	through := func(over chan bool) {
		t.Helper()
		for _, want := range []string{"microphone.wav", journalName} {
			if got := <-d.begun; got != want {
				t.Fatalf("%s is synced, want %s", got, want)
			}
			d.let <- nil
		}
		<-over
	}
	holds := func(samples, readings int) {
		t.Helper()
		_, out := replay(t, dir)
		got := gather(rates([]rig.Stream{microphone, scale}), out)
		if len(got[rig.Microphone].samples) != samples || len(got[rig.Scale].readings) != readings {
			t.Fatalf("the disk holds %d samples and %d readings, want %d and %d",
				len(got[rig.Microphone].samples), len(got[rig.Scale].readings), samples, readings)
		}
	}
	add(0, 1000)
	first := beside(true)
	add(1000, 2500)
	beside(false)
	through(first)
	holds(1000, 1)
	second := beside(true)
	add(2500, 4000)
	through(second)
	holds(2500, 2)
	beside(true)
	for i := range 300 { // more than a batch holds
		if err := w.AppendReading(rig.Scale, rig.Reading{AtS: 1, Value: float64(i)}); err != nil {
			t.Fatal(err)
		}
	}
	defer close(d.begun)
	go func() { // from here on the disk is fast
		for range d.begun {
			d.let <- nil
		}
	}()
	if err := w.Seal(); err != nil {
		t.Fatal(err)
	}
	holds(4000, 303)
	if problems, err := Verify(dir); err != nil || len(problems) > 0 {
		t.Errorf("Verify: %v, %v", problems, err)
	}
}

// A sync beside that fails ends the session, as any other does: the next call says so.
func TestSyncBesideFails(t *testing.T) {
	for _, name := range []string{"microphone.wav", journalName} {
		_, d, w, add := slowly(t)
		add(0, 1000)
		over := make(chan bool, 1)
		if _, err := w.SyncBeside(func() { over <- true }); err != nil {
			t.Fatal(err)
		}
		for <-d.begun != name {
			d.let <- nil
		}
		d.let <- errPower
		<-over
		if begun, err := w.SyncBeside(func() {}); begun || !errors.Is(err, errPower) {
			t.Errorf("%s: a sync after one that failed: %v, %v", name, begun, err)
		}
		if err := w.AppendReading(rig.Scale, rig.Reading{AtS: 2}); !errors.Is(err, errPower) {
			t.Errorf("%s: a reading after it: %v", name, err)
		}
		d.slow = false
		if err := w.Close(); !errors.Is(err, errPower) {
			t.Errorf("%s: the end: %v", name, err)
		}
	}
}
