package session

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"
	"unicode/utf8"

	"golang.org/x/sys/unix"

	"quern/config"
	"quern/rig"
	"quern/rig/line"
	"quern/rig/wave"
)

// Head is what is known of a session before its first block.
type Head struct {
	Session  string // its name; "": the last part of the folder's path
	Setup    config.Setup
	Started  time.Time     // wall time of 0 s
	Tool     string        // the program and its version
	Origin   rig.Origin    // how the session came to be
	Streams  []Stream      // none for a session by hand
	Warnings []rig.Warning // what is to be stated already; AddWarning adds to them
	// Live: the folder stands in its place from the beginning and survives a crash, as a recording
	// must. Otherwise it is built under a temporary name beside it and appears when it is sealed,
	// so that an import that fails leaves nothing.
	Live bool
}

// Stream is a stream to be kept. Encoding is that of the WAV file of a waveform; readings have none.
type Stream struct {
	rig.Stream
	Encoding wave.Encoding
}

// Create begins a session in the folder dir, which must not exist; the folder above it must.
// Whoever creates a Writer calls Close in the end.
func Create(dir string, head Head) (*Writer, error) { return create(osDisk{}, dir, head) }

func create(d disk, dir string, head Head) (*Writer, error) {
	dir = filepath.Clean(dir)
	m, err := head.manifest(filepath.Base(dir))
	if err != nil {
		return nil, fmt.Errorf("session %s: %w", dir, err)
	}
	if err := free(dir); err != nil {
		return nil, err
	}
	w := &Writer{disk: d, dir: dir, live: head.Live, manifest: m}
	w.scribe = scribe{stamp: newStamper(m), put: w.appendPoint}
	if err := w.build(head); err != nil {
		w.Abort()
		return nil, err
	}
	return w, nil
}

func (h Head) manifest(base string) (Manifest, error) {
	setup := h.Setup
	m := Manifest{
		Format: formatName, Version: formatVersion, Session: h.Session,
		Bench: setup.Bench.Name, Unit: setup.Unit.ID, Procedure: setup.Procedure.ID,
		Started: h.Started.UTC(), TimeZone: setup.Bench.TimeZone, Tool: h.Tool, Origin: h.Origin, State: Unsealed, Settings: settingsName, Journal: journalName,
		Streams: []StreamEntry{}, Warnings: append([]rig.Warning{}, h.Warnings...), Files: []FileEntry{},
	}
	if m.Session == "" {
		m.Session = base
	}
	for _, s := range h.Streams {
		e := StreamEntry{Channel: s.Channel, Form: s.Form, Unit: s.Unit, RateHz: s.RateHz, File: journalName, Encoding: encodingName(s.Encoding)}
		if s.Form == rig.Waveform {
			e.File = recordingName(s.Channel)
		}
		m.Streams = append(m.Streams, e)
	}
	for _, s := range []string{m.Session, m.Bench, m.Unit, m.Procedure, m.Tool} {
		if !utf8.ValidString(s) {
			return m, fmt.Errorf("%q is not UTF-8", s)
		}
	}
	if err := m.check(); err != nil {
		return m, err
	}
	// What the journal's tags cannot hold would fail with the first reading.
	p, err := newStamper(m).point(markName, 0, nil, nil)
	if err == nil {
		_, err = line.Append(nil, p)
	}
	return m, err
}

// free makes sure that the name is not taken and that there is a folder to put it in.
func free(dir string) error {
	if _, err := os.Lstat(dir); err == nil {
		return taken(dir)
	} else if errors.Is(err, unix.ENOTDIR) {
		return &rig.FileError{File: filepath.Dir(dir), Byte: -1, Found: "a file, or a path through one",
			Want: "the folder in which the session is to stand", Do: "name another folder; nothing was touched", Err: err}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return unwritable(dir, err)
	}
	parent := filepath.Dir(dir)
	if info, err := os.Stat(parent); err != nil || !info.IsDir() {
		return &rig.FileError{File: parent, Byte: -1, Found: "no folder of that name",
			Want: "the folder in which the session is to stand", Do: "make the folder first", Err: err}
	}
	return nil
}

func taken(dir string) error {
	return &rig.FileError{File: dir, Byte: -1, Found: "a file or folder of that name",
		Want: "a name that is free", Do: "choose another name; nothing was touched", Err: fs.ErrExist}
}

// build makes the skeleton under a temporary name. A live session is moved into its place before
// anything is recorded; its folder is a session from that moment on.
func (w *Writer) build(head Head) error {
	if err := w.makeRoot(); err != nil {
		return unwritable(w.dir, err)
	}
	err := w.disk.Mkdir(within(w.root, recordingsName))
	if err == nil {
		err = writeWhole(w.disk, within(w.root, settingsName), func(f io.Writer) error {
			_, err := f.Write(head.Setup.TOML())
			return err
		})
	}
	if err == nil {
		err = w.writeManifest()
	}
	if err == nil && w.live {
		err = w.moveIntoPlace()
	}
	if err != nil {
		return unwritable(w.dir, err)
	}
	if w.journal, err = w.disk.Create(within(w.root, journalName)); err != nil {
		return unwritable(within(w.dir, journalName), err)
	}
	w.add([]byte(heading(w.manifest)), 2)
	for _, e := range w.manifest.Streams {
		t, err := w.openTrack(e)
		if err != nil {
			return unwritable(within(w.dir, e.File), err)
		}
		w.tracks = append(w.tracks, t)
	}
	return w.Sync()
}

// makeRoot makes the temporary folder and locks it, so that nobody takes it for the leftover of a crash: see
// [ClearUnfinished]. Names that are taken stay as they are.
func (w *Writer) makeRoot() error {
	for n := 1; ; n++ {
		root := filepath.Join(filepath.Dir(w.dir), fmt.Sprintf(".%s%s-%d", filepath.Base(w.dir), temporary, n))
		err := w.disk.Mkdir(root)
		if err == nil {
			var ours bool
			if w.lock, ours = lockRoot(root); ours {
				w.root = root
				return nil
			}
			err = fs.ErrExist
		}
		if !errors.Is(err, fs.ErrExist) || n == 1000 {
			return err
		}
	}
}

// moveIntoPlace gives the folder its name, and makes the name last.
func (w *Writer) moveIntoPlace() error {
	if err := free(w.dir); err != nil {
		return err
	}
	for _, dir := range []string{within(w.root, recordingsName), w.root} {
		if err := w.disk.SyncDir(dir); err != nil {
			return err
		}
	}
	if err := w.disk.Rename(w.root, w.dir); errors.Is(err, fs.ErrExist) {
		return taken(w.dir) // by another program, just now
	} else if err != nil {
		return err
	}
	w.root = w.dir
	return w.disk.SyncDir(filepath.Dir(w.dir))
}

func (w *Writer) writeManifest() error {
	return storeManifest(w.disk, w.root, w.manifest)
}

func storeManifest(d disk, root string, m Manifest) error {
	text, err := m.encode()
	if err != nil {
		return err
	}
	return writeWhole(d, within(root, manifestName), func(f io.Writer) error {
		_, err := f.Write(text)
		return err
	})
}

// unwritable says that the disk did not take something. Errors that speak for themselves stay.
func unwritable(name string, err error) error {
	var spoken *rig.FileError
	if errors.As(err, &spoken) {
		return err
	}
	if errors.Is(err, unix.ENAMETOOLONG) {
		if r := []rune(name); len(r) > 80 {
			name = string(r[:80]) + "..."
		}
		return &rig.FileError{File: name, Byte: -1, Found: "a name that is too long for the disk", Want: "a shorter one", Do: "choose another name; nothing was touched", Err: err}
	}
	return &rig.FileError{File: name, Byte: -1, Found: "a disk that does not take it (" + rig.Reason(err) + ")",
		Want: "room and the right to write", Do: "look at free space and permissions, then record or import again", Err: err}
}
