// Package session is the folder in which a session is kept, and its only writer and reader. Its
// forms are open and outlive the program:
//
//	manifest.json              what was recorded, where, how; when sealed, the SHA-256 of every file
//	settings.toml              the bench, unit and procedure in force
//	journal.lp                 readings, events and facts as line protocol
//	recordings/CHANNEL.wav     the waveform of a channel, in the encoding it came in
//
// What comes after the seal stands beside what was sealed:
//
//	addenda.lp                 facts added since: line protocol too, each batch chained to all before it
//	analyses/KEY.json          what the session came to under some settings; can be computed again
//
// The folder appears whole or not at all. A session that ended without being sealed (power lost)
// opens too: its journal proves itself and the recordings batch by batch, and what is not proved is left out.
package session

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"quern/config"
	"quern/rig"
)

// Names inside the folder.
const (
	manifestName   = "manifest.json"
	settingsName   = "settings.toml"
	journalName    = "journal.lp"
	recordingsName = "recordings"
	tornName       = "journal" + tornEnding
	tornEnding     = ".torn-" // and a number from 1
)

// Codes of the warnings that reading a session can give.
const (
	Interrupted     = "session-interrupted" // it was never sealed
	Changed         = rig.SessionChanged
	JournalTorn     = rig.JournalTorn
	AddendaTorn     = rig.AddendaTorn
	AddendaDamaged  = rig.AddendaDamaged
	JournalDamaged  = rig.JournalDamaged
	repairedSuffix  = "-file-repaired" // microphone-file-repaired: a WAV file was read past a fault
	tornSuffix      = "-torn"          // microphone-torn: the end of an interrupted recording does not prove itself
	recordingAbsent = "-file-missing"  // microphone-file-missing: an interrupted session lacks it
)

// Session is a session folder opened for reading. Reading stores nothing.
type Session struct {
	dir      string
	manifest Manifest
	setup    config.Setup
	warnings []rig.Warning
	anchored bool // the journal holds anchors
	synced   map[rig.Channel][]lasting
	addenda  addenda
}

// Open reads the session folder dir. A folder that is no session, a manifest of another version or
// settings that do not read are errors; damage that leaves the rest usable is a warning.
func Open(dir string) (*Session, error) {
	m, err := ReadManifest(dir)
	if err != nil {
		return nil, err
	}
	s := &Session{dir: dir, manifest: m, warnings: append([]rig.Warning(nil), m.Warnings...)}
	if s.setup, err = ReadSetup(dir); err != nil {
		return nil, err
	}
	s.checkFiles()
	s.checkBytes()
	if err := s.checkJournal(); err != nil {
		return nil, err
	}
	if err := s.checkRecordings(); err != nil {
		return nil, err
	}
	if s.addenda, err = loadAddenda(dir, m, 0); err != nil {
		return nil, err
	}
	s.warnings = append(s.warnings, s.addenda.warnings()...)
	return s, nil
}

// Manifest returns the manifest as it stands in the folder.
func (s *Session) Manifest() Manifest { return s.manifest }

// Setup returns the settings that were in force.
func (s *Session) Setup() config.Setup { return s.setup }

// Warnings returns what was stated when the session was written, and what opening it found.
func (s *Session) Warnings() []rig.Warning { return append([]rig.Warning(nil), s.warnings...) }

func (s *Session) warn(code, format string, args ...any) {
	s.warnings = append(s.warnings, rig.Warning{Code: code, Text: fmt.Sprintf(format, args...)})
}

// checkFiles compares the sizes of all files.
func (s *Session) checkFiles() {
	if s.manifest.State != Sealed {
		s.warn(Interrupted, "the session is not sealed: it is still being recorded, or stopped without its end being written")
		return
	}
	if !s.manifest.proves() {
		s.warn(Changed, "%s was changed after the session was sealed", within(s.dir, manifestName))
	}
	for _, f := range s.manifest.Files {
		name := within(s.dir, f.Path)
		info, err := os.Stat(name)
		switch {
		case err != nil:
			s.warn(Changed, "%s is missing since the session was sealed", name)
		case info.Size() != f.Bytes:
			s.warn(Changed, "%s holds %s, not the %d that were sealed", name, rig.Count(info.Size(), "byte"), f.Bytes)
		}
	}
}

// checkBytes compares every byte of the two files that are small and decide what everything else means, where the
// size did not tell already. The recordings are left to Verify.
func (s *Session) checkBytes() {
	if s.manifest.State != Sealed {
		return
	}
	for _, f := range s.manifest.Files {
		if f.Path != settingsName && f.Path != journalName {
			continue
		}
		if got, err := fileEntry(s.dir, f.Path); err == nil && got.Bytes == f.Bytes && got != f {
			s.warn(Changed, "%s is not what was sealed: its SHA-256 differs (verify looks at the recordings too)", within(s.dir, f.Path))
		}
	}
}

// checkJournal proves the journal once, so that the warnings are known before anything is read.
func (s *Session) checkJournal() error {
	j, err := s.openJournal()
	if err != nil {
		return err
	}
	defer j.Close()
	return j.each(func(b batch) error {
		s.checkBatch(b)
		return nil
	})
}

func (s *Session) checkBatch(b batch) {
	switch {
	case b.fault == nil:
		s.anchored = s.anchored || b.holds(anchorName)
		s.noteSynced(b)
	case b.torn:
		s.warn(JournalTorn, "%s: its end is left out, %s", b.fault, rig.Count(b.to-b.from, "byte"))
	default:
		s.warn(JournalDamaged, "%s: left out, %s", b.fault, rig.Count(b.to-b.from, "byte"))
	}
}

// within returns the path of a file in the folder for opening and for messages: as the user typed
// the folder, then the name.
func within(dir, name string) string {
	return strings.TrimRight(dir, string(filepath.Separator)) + string(filepath.Separator) + filepath.FromSlash(name)
}

// unreadable says that a file could not be read.
func unreadable(name string, err error, want string) error {
	found := "a file that cannot be read (" + rig.Reason(err) + ")"
	if errors.Is(err, fs.ErrNotExist) {
		found = "nothing"
	}
	return &rig.FileError{File: name, Byte: -1, Found: found, Want: want,
		Do: "check the path, and that it is a whole session folder", Err: err}
}

// noSession says what a folder is that has no manifest to read.
func noSession(dir string, err error) error {
	p := &rig.FileError{File: dir, Byte: -1, Want: "a session folder with its manifest", Do: "check the path", Err: err}
	info, serr := os.Stat(dir)
	inside, _ := filepath.Glob(filepath.Join(within(dir, "*"), manifestName)) // the pattern's only error is a strange name
	has := func(name string) bool { _, err := os.Stat(within(dir, name)); return err == nil }
	switch {
	case errors.Is(serr, fs.ErrNotExist):
		p.Found = "no such folder"
	case serr == nil && !info.IsDir():
		p.Found = "a file"
	case !errors.Is(err, fs.ErrNotExist) || serr != nil:
		return unreadable(within(dir, manifestName), err, p.Want)
	case len(inside) > 0:
		p.Found, p.Do = fmt.Sprintf("a folder of sessions (%d)", len(inside)), "name the sessions: "+within(dir, "*")
	case has("bench.toml"):
		p.Found, p.Do = "a lab folder", "name a session"
	default:
		return unreadable(within(dir, manifestName), err, p.Want)
	}
	return p
}
