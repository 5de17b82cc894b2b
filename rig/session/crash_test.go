package session

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

var errPower = errors.New("the power is gone")

// failing is a disk that does all until its time has come, then nothing any more. What was not
// synced by then is cut down to a part of itself.
type failing struct {
	osDisk
	left  int // operations until it fails
	files []*failingFile
	gone  bool
	only  string // fail this operation only, and go on afterwards: "sync"
	zeros bool   // files keep their length, with zeros for what was lost
}

type failingFile struct {
	*os.File
	disk   *failing
	path   string // its name by now
	synced int64  // bytes that are sure
	closed int64  // bytes when it was closed
}

// spent counts an operation down, and tells whether it fails.
func (d *failing) spent(op string) bool {
	if d.gone {
		return true
	}
	if d.only != "" && d.only != op {
		return false
	}
	d.left--
	if d.left >= 0 {
		return false
	}
	d.gone = d.only == ""
	if op != "write" {
		d.lose()
	}
	return true
}

// lose takes back what was not synced when the power went.
func (d *failing) lose() {
	for _, f := range d.files {
		info, err := os.Stat(f.path)
		if err == nil && d.gone && info.Size() > f.synced {
			// An odd share of the unsynced bytes made it; removed files have no more to lose.
			_ = os.Truncate(f.path, f.synced+(info.Size()-f.synced)*2/3)
			if d.zeros {
				_ = os.Truncate(f.path, info.Size())
			}
		}
	}
}

func (d *failing) Mkdir(path string) error {
	if d.spent("mkdir") {
		return errPower
	}
	return d.osDisk.Mkdir(path)
}

func (d *failing) Create(path string) (file, error) {
	if d.spent("create") {
		return nil, errPower
	}
	f, err := os.Create(path)
	if err != nil {
		return nil, err
	}
	own := &failingFile{File: f, disk: d, path: path}
	d.files = append(d.files, own)
	return own, nil
}

func (d *failing) Append(path string) (file, error) {
	if d.spent("append") {
		return nil, errPower
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	own := &failingFile{File: f, disk: d, path: path, synced: info.Size()}
	d.files = append(d.files, own)
	return own, nil
}

func (d *failing) Rename(from, to string) error {
	if d.spent("rename") {
		return errPower
	}
	err := d.osDisk.Rename(from, to)
	d.files = slices.DeleteFunc(d.files, func(f *failingFile) bool { return err == nil && f.path == to }) // replaced
	for _, f := range d.files {
		if rest, ok := strings.CutPrefix(f.path, from); ok && err == nil {
			f.path = to + rest
		}
	}
	return err
}

func (d *failing) RemoveAll(path string) error {
	if d.spent("remove") {
		return errPower
	}
	return d.osDisk.RemoveAll(path)
}

func (d *failing) Cut(path string, to int64) error {
	if d.spent("cut") {
		return errPower
	}
	return d.osDisk.Cut(path, to)
}

func (d *failing) SyncDir(path string) error {
	if d.spent("syncdir") {
		return errPower
	}
	return d.osDisk.SyncDir(path)
}

// Write stores half of what it is given when the power goes.
func (f *failingFile) Write(b []byte) (int, error) {
	if f.disk.gone {
		return 0, errPower
	}
	if f.disk.spent("write") {
		n, _ := f.File.Write(b[:len(b)/2])
		f.disk.lose()
		return n, errPower
	}
	return f.File.Write(b)
}

func (f *failingFile) Sync() error {
	if f.disk.spent("sync") {
		return errPower
	}
	info, err := f.File.Stat()
	if err == nil {
		f.synced = info.Size()
	}
	return err
}

// Close always closes, so that a test leaves no file open.
func (f *failingFile) Close() error {
	if info, err := f.File.Stat(); err == nil {
		f.closed = info.Size()
	}
	if err := f.File.Close(); err != nil {
		return err
	}
	if f.disk.gone {
		return errPower
	}
	return nil
}

// scripted records a short session with a sync after every few blocks. It returns how many blocks
// were surely kept, and whether the session was sealed.
func scripted(d disk, dir string, live bool, in []rig.Block) (synced int, sealed bool, err error) {
	head := testHead(Stream{microphone, wave.PCM16}, Stream{scale, 0})
	head.Live = live
	w, err := create(d, dir, head)
	if err != nil {
		return 0, false, err
	}
	for i, b := range in {
		if err := w.AppendBlock(b); err != nil {
			return synced, false, errors.Join(err, w.Close())
		}
		if i%4 == 3 {
			if err := w.Sync(); err != nil {
				return synced, false, errors.Join(err, w.Close())
			}
			synced = i + 1
		}
	}
	if err := w.Seal(); err != nil {
		return synced, false, errors.Join(err, w.Close())
	}
	return len(in), true, nil
}

// The power goes at every operation in turn: there is no session then, or one from which all that
// was synced comes back and nothing that was not appended.
func TestCrashAtEveryOperation(t *testing.T) {
	in := blocks(3, 0.7, microphone, scale)
	streams := rates([]rig.Stream{microphone, scale})
	for _, way := range []struct{ live, zeros bool }{{false, false}, {true, false}, {true, true}} {
		live, recovered := way.live, 0
		for n := 0; ; n++ {
			parent := t.TempDir()
			dir := filepath.Join(parent, "s")
			d := &failing{left: n, zeros: way.zeros}
			synced, done, err := scripted(d, dir, live, in)
			if !d.gone {
				if err != nil || !done {
					t.Fatalf("live %v: failed without a cause: %v", live, err)
				}
				t.Logf("live %v: %d operations, %d sessions recovered", live, n, recovered)
				break
			}
			if err == nil {
				t.Fatalf("live %v, operation %d: a failing disk went unnoticed", live, n)
			}
			if !exists(dir) {
				if live && synced > 0 {
					t.Fatalf("live %v, operation %d: %d synced blocks are gone", live, n, synced)
				}
				continue
			}
			s, out := replay(t, dir)
			got, all := gather(streams, out), gather(streams, in)
			least := gather(streams, in[:synced])
			for c, whole := range all {
				g := got[c]
				if g == nil {
					g = &stream{}
				}
				if want := least[c]; want != nil && (len(g.samples) < len(want.samples) || len(g.readings) < len(want.readings)) {
					t.Fatalf("live %v, operation %d: %s lost what was synced", live, n, c)
				}
				prefix := &stream{samples: whole.samples[:len(g.samples)], times: whole.times[:len(g.times)]}
				if len(g.readings) > 0 {
					prefix.readings = whole.readings[:len(g.readings)]
				}
				same(t, map[rig.Channel]*stream{c: g}, map[rig.Channel]*stream{c: prefix})
			}
			if s.Manifest().State == Sealed {
				if problems, err := Verify(dir); err != nil || len(problems) > 0 {
					t.Fatalf("live %v, operation %d: sealed, but %v, %v", live, n, problems, err)
				}
				continue
			}
			recovered++
			if err := Seal(dir); err != nil {
				t.Fatalf("live %v, operation %d: %v", live, n, err)
			}
			_, again := replay(t, dir)
			if len(again) != len(out) {
				t.Fatalf("live %v, operation %d: sealing changed what is read", live, n)
			}
			if problems, err := Verify(dir); err != nil || len(problems) > 0 {
				t.Fatalf("live %v, operation %d: sealed afterwards, but %v, %v", live, n, problems, err)
			}
		}
		if live && recovered == 0 {
			t.Error("no crash left a session to recover: the test sees nothing")
		}
	}
}

// After a failed fsync the session has ended, though the next one would succeed.
func TestFailedSyncEndsTheSession(t *testing.T) {
	for n := 0; n < 12; n++ {
		dir := filepath.Join(t.TempDir(), "s")
		d := &failing{left: n, only: "sync"}
		_, done, err := scripted(d, dir, false, blocks(3, 0.7, microphone, scale))
		if done || !errors.Is(err, errPower) || !strings.Contains(err.Error(), "look at free space") {
			t.Fatalf("fsync %d: got %v, want an error that the disk did not take it", n, err)
		}
		if exists(dir) {
			t.Fatalf("fsync %d: a failed import left a session", n)
		}
	}
}

// The power goes at every operation of a recovery: nothing is lost, and the next recovery ends well.
func TestCrashInRecovery(t *testing.T) {
	for n := 0; ; n++ {
		dir := interrupted(t)
		name := filepath.Join(dir, journalName)
		before, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		torn := "scale mass_g=1,t_s=1 10"
		if err := os.WriteFile(name, append(before, torn...), 0o644); err != nil {
			t.Fatal(err)
		}
		d := &failing{left: n}
		_, err = recoverOn(d, dir)
		if d.gone == (err == nil) {
			t.Fatalf("operation %d: got %v, power gone %v", n, err, d.gone)
		}
		if _, err := recoverOn(osDisk{}, dir); err != nil {
			t.Fatalf("operation %d: %v", n, err)
		}
		after, err := os.ReadFile(name)
		if err != nil || string(after) != string(before) {
			t.Fatalf("operation %d: the journal became %q, %v", n, after, err)
		}
		if aside, err := os.ReadFile(filepath.Join(dir, tornName+"1")); err != nil || string(aside) != torn {
			t.Fatalf("operation %d: set aside %q, %v, want %q", n, aside, err, torn)
		}
		if !d.gone {
			return
		}
	}
}

// interrupted returns a live session that was closed without being sealed.
func interrupted(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "s")
	head := testHead(Stream{scale, 0})
	head.Live = true
	w, err := Create(dir, head)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 6 {
		if err := w.AppendReading(rig.Scale, rig.Reading{AtS: float64(i) / 10, Value: float64(i)}); err != nil {
			t.Fatal(err)
		}
		if i%2 == 1 {
			if err := w.Sync(); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := mark(w, 1.3, 1, "bone # batch n=1"); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}
