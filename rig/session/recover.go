package session

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"quern/rig"
)

// recovery says what recoverOn did.
type recovery struct {
	kept  int64    // bytes of the journal that prove themselves
	aside int64    // bytes that do not
	torn  string   // the file that now holds those; "" if there were none
	ends  []string // what was set aside of the recordings
}

// recoverOn makes an interrupted session ready to be sealed: what of its journal does not prove itself
// is moved to journal.torn-1 (or the next free number), never deleted, and so is what of its recordings no sync
// made last. It changes nothing in a session that is whole, and can itself be interrupted. A sealed session is not
// touched: see Verify.
func recoverOn(d disk, dir string) (recovery, error) {
	m, err := ReadManifest(dir)
	if err != nil {
		return recovery{}, err
	}
	if m.State == Sealed {
		return recovery{}, &rig.FileError{File: within(dir, manifestName), Byte: -1, Found: "a sealed session",
			Want: "an interrupted one", Do: "verify it instead", Err: errSealed}
	}
	if _, err := ReadSetup(dir); err != nil { // sealed like that nothing could read it, and putting them back would be a change
		return recovery{}, err
	}
	for _, in := range []string{dir, within(dir, recordingsName)} {
		if err := removeLeftovers(d, in, ""); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return recovery{}, unwritable(in, err)
		}
	}
	s := &Session{dir: dir, manifest: m}
	done, err := s.recoverJournal(d)
	if err == nil {
		done.ends, err = s.setAside(d)
	}
	return done, err
}

// recoverJournal sets aside what of the journal does not prove itself.
func (s *Session) recoverJournal(d disk) (done recovery, err error) {
	dir := s.dir
	var good, bad []span
	j, err := s.openJournal()
	if err != nil {
		return recovery{}, err
	}
	defer j.Close()
	err = j.each(func(b batch) error {
		if b.fault == nil {
			s.noteSynced(b)
			good = extend(good, b.from, b.to)
			done.kept += b.to - b.from
		} else {
			bad = extend(bad, b.from, b.to)
			done.aside += b.to - b.from
		}
		return nil
	})
	if err != nil || len(bad) == 0 {
		return done, err
	}
	if done.torn, err = freeTorn(dir, tornName); err != nil {
		return recovery{}, err
	}
	// Aside first: if this is interrupted in between, both files hold the bytes, and neither lost any.
	for _, step := range []struct {
		name  string
		spans []span
	}{{done.torn, bad}, {journalName, good}} {
		err := writeWhole(d, within(dir, step.name), func(f io.Writer) error {
			return copySpans(f, within(dir, journalName), step.spans)
		})
		if err != nil {
			return recovery{}, unwritable(within(dir, step.name), err)
		}
	}
	return done, nil
}

// Whole reports whether err says that a session has been sealed already, so that there is nothing to recover.
func Whole(err error) bool { return errors.Is(err, errSealed) }

var errSealed = errors.New("it is sealed")

// Seal recovers an interrupted session and seals it, with a warning in its manifest that says so, and with
// those that are given. A session that is being recorded is refused, as is one that is sealed: see [Recorded] and [Whole].
func Seal(dir string, more ...rig.Warning) error {
	d := osDisk{}
	lock, err := lockUnsealed(dir)
	if err != nil {
		return err
	}
	defer lock.Close() // of nil: an error that tells nothing
	done, err := recoverOn(d, dir)
	if err != nil {
		return err
	}
	m, err := ReadManifest(dir)
	if err != nil {
		return err
	}
	text := "the session was interrupted and sealed afterwards"
	if done.aside > 0 {
		text += fmt.Sprintf("; what of its journal did not prove itself stands in %s, %s", done.torn, rig.Count(done.aside, "byte"))
	}
	for _, end := range done.ends {
		text += "; " + end
	}
	m.Warnings = append(append(m.Warnings, rig.Warning{Code: Interrupted, Text: text}), more...)
	if m, err = sealed(dir, m); err == nil {
		err = storeManifest(d, dir, m)
	}
	if err != nil {
		return unwritable(within(dir, manifestName), err)
	}
	return nil
}

// span is a stretch of a file.
type span struct{ from, to int64 }

// extend appends a stretch, as part of the last one if it follows on it.
func extend(all []span, from, to int64) []span {
	if n := len(all); n > 0 && all[n-1].to == from {
		all[n-1].to = to
		return all
	}
	return append(all, span{from, to})
}

func copySpans(w io.Writer, path string, spans []span) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	for _, s := range spans {
		if _, err := io.Copy(w, io.NewSectionReader(f, s.from, s.to-s.from)); err != nil {
			return err
		}
	}
	return nil
}

// freeTorn returns the first name with a number after it that is not taken.
func freeTorn(dir, beginning string) (string, error) {
	for n := 1; ; n++ {
		name := fmt.Sprintf("%s%d", beginning, n)
		_, err := os.Lstat(within(dir, name))
		if errors.Is(err, fs.ErrNotExist) {
			return name, nil
		}
		if err != nil {
			return "", unwritable(within(dir, name), err)
		}
	}
}

// removeLeftovers removes files that a crash left half written under a temporary name which begins
// with prefix; what they were to replace is still there.
func removeLeftovers(d disk, dir, prefix string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), prefix) && strings.HasSuffix(e.Name(), temporary) && e.Type().IsRegular() {
			if err := d.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}
