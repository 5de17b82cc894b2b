package session

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"strings"
	"time"
	"unicode/utf8"

	"quern/rig"
	"quern/rig/line"
)

// Amendments adds facts to a sealed session. Only one program at a time can hold them. As with a
// Writer, the first error of the disk ends it, and every later call returns that error.
type Amendments struct {
	scribe
	disk    disk
	dir     string
	lock    *os.File
	file    file   // nil until the first batch is written
	chain   string // after what the file holds
	opening []byte // comments before the first fact
	pending []byte
	now     time.Time
	err     error
	ended   bool
}

// Amend opens a sealed session for adding facts; tool and now say in the addenda by what and when. A
// session that is not sealed, or whose journal or addenda do not prove themselves, is refused. An end
// that a crash left unproved is moved to addenda.torn-1 (or the next free number), never deleted.
func Amend(dir, tool string, now time.Time) (*Amendments, error) {
	return amend(osDisk{}, dir, tool, now)
}

func amend(d disk, dir, tool string, now time.Time) (*Amendments, error) {
	if tool == "" || !utf8.ValidString(tool) || strings.ContainsFunc(tool, func(r rune) bool { return r < ' ' || r == 0x7f }) {
		return nil, fmt.Errorf("session %s: the program's name %q, expected one line of text", dir, tool)
	}
	if err := checkMade(now); err != nil {
		return nil, fmt.Errorf("session %s: %w", dir, err)
	}
	lock, err := lockFolder(dir, false)
	if err != nil {
		return nil, err
	}
	a := &Amendments{disk: d, dir: dir, lock: lock, now: now}
	if err := a.open(added(now, tool)); err != nil {
		_ = lock.Close() // the first error tells more
		return nil, err
	}
	return a, nil
}

// open finds out where the addenda stand, and mends their end.
func (a *Amendments) open(opening []byte) error {
	m, err := ReadManifest(a.dir)
	if err != nil {
		return err
	}
	last, err := amendable(a.dir, m)
	if err != nil {
		return err
	}
	if err := removeLeftovers(a.disk, a.dir, "addenda."); err != nil {
		return unwritable(a.dir, err)
	}
	was, err := loadAddenda(a.dir, m, last)
	if err == nil {
		err = was.sense
	}
	if err != nil {
		return err
	}
	if was.fault != nil && !was.torn {
		was.fault.Do = fmt.Sprintf("restore it from a copy; without one, move what begins at byte %d to a file outside the session", was.good)
		return was.fault
	}
	if was.good == 0 {
		a.opening = append(a.opening, addendaHeading+fmt.Sprintf(addendaBeginning, m.Self)...)
	}
	a.scribe = scribe{stamp: newStamper(m), last: was.last, put: a.appendPoint}
	a.chain = was.chain
	if was.fault != nil {
		if err := a.setAside(was.good); err != nil {
			return unwritable(within(a.dir, addendaName), err)
		}
	}
	a.opening = append(a.opening, opening...)
	return nil
}

// amendable makes sure that a session is sealed and its journal whole, so that numbers of facts are
// not given twice. It returns the last.
func amendable(dir string, m Manifest) (last int, err error) {
	name := within(dir, manifestName)
	if m.State != Sealed {
		return 0, &rig.FileError{File: name, Byte: -1, Found: "a session that is not sealed", Want: "a sealed one",
			Do: "recover it first, or let the daemon that records it add the fact"}
	}
	if !m.proves() {
		return 0, &rig.FileError{File: name, Byte: -1, Found: "a manifest that was changed", Want: "the one that was sealed",
			Do: "restore it from a copy"}
	}
	s := &Session{dir: dir, manifest: m}
	j, err := s.openJournal()
	if err != nil {
		return 0, err
	}
	defer j.Close()
	var c collector
	var bad *rig.FileError
	err = c.collect(j, func(b batch) {
		if bad == nil {
			bad = b.fault
		}
	})
	if err == nil && bad == nil && !m.sized(journalName, j.offset) {
		bad = &rig.FileError{File: j.name, Byte: -1, Found: rig.Count(j.offset, "byte"), Want: "the size that was sealed"}
	}
	if err == nil && bad != nil {
		bad.Do, err = "restore it from a copy first", bad
	}
	return c.last, err
}

// setAside moves what follows the good bytes to a file of its own, and notes where in a batch.
func (a *Amendments) setAside(good int64) error {
	name := within(a.dir, addendaName)
	info, err := os.Stat(name)
	if err != nil {
		return err
	}
	tail := []span{{good, info.Size()}}
	h := sha256.New()
	if err := copySpans(h, name, tail); err != nil {
		return err
	}
	e := FileEntry{Bytes: info.Size() - good, SHA256: hex.EncodeToString(h.Sum(nil))}
	if e.Path, err = asideName(a.dir, e); err != nil {
		return err
	}
	// Aside first: if this is interrupted in between, both files hold the bytes, and the next time
	// finds that they are there already.
	err = writeWhole(a.disk, within(a.dir, e.Path), func(f io.Writer) error { return copySpans(f, name, tail) })
	if err != nil {
		return err
	}
	text := append(a.opening, fmt.Sprintf(asideForm, e.Path, e.Bytes, e.SHA256)...)
	a.opening = nil
	whole, chain := batched(text, a.chain)
	err = writeWhole(a.disk, name, func(f io.Writer) error {
		if err := copySpans(f, name, []span{{0, good}}); err != nil {
			return err
		}
		_, err := f.Write(whole)
		return err
	})
	a.chain = chain
	return err
}

// asideName returns the first name addenda.torn-N that is free or holds those very bytes.
func asideName(dir string, e FileEntry) (string, error) {
	for n := 1; ; n++ {
		e.Path = fmt.Sprintf("%s%d", addendaTornName, n)
		got, err := fileEntry(dir, e.Path)
		if errors.Is(err, os.ErrNotExist) || err == nil && got == e {
			return e.Path, nil
		}
		if n >= 1000 {
			return "", fmt.Errorf("%d files %s*", n, addendaTornName)
		}
	}
}

// batched returns the lines with the comment that proves them, and the chain value after it.
func batched(text []byte, chain string) ([]byte, string) {
	chain = chained(chain, text)
	return appendChainedLine(text, bytes.Count(text, []byte("\n")), crc32.Checksum(text, castagnoli), chain), chain
}

// AppendCorrection is that of a Writer; At may be left out: it is the time given to Amend.
func (a *Amendments) AppendCorrection(c rig.Correction) (fact int, err error) {
	if c.At.IsZero() {
		c.At = a.now
	}
	return a.scribe.AppendCorrection(c)
}

// appendPoint adds a fact to the batch. What cannot be written is refused and harms nothing.
func (a *Amendments) appendPoint(p line.Point, err error) error {
	if e := a.usable(); e != nil {
		return e
	}
	var text []byte
	if err == nil {
		text, err = line.Append(nil, p)
	}
	if err == nil && len(text) > maxPoint {
		err = fmt.Errorf("%s: a line of more than 64 KiB", p.Measurement)
	}
	if err != nil {
		return fmt.Errorf("session %s: %w", a.dir, err)
	}
	a.pending = append(append(a.pending, a.opening...), text...)
	a.opening = nil
	if len(a.pending) >= fullAmend {
		return a.write()
	}
	return nil
}

// write puts the pending facts into the file as one batch.
func (a *Amendments) write() error {
	if len(a.pending) == 0 {
		return nil
	}
	if a.file == nil {
		var err error
		if a.file, err = a.disk.Append(within(a.dir, addendaName)); err != nil {
			return a.disked(err)
		}
	}
	text, chain := batched(a.pending, a.chain)
	if _, err := a.file.Write(text); err != nil {
		return a.disked(err)
	}
	a.chain, a.pending = chain, nil
	return nil
}

// Sync makes everything appended so far last, as one batch.
func (a *Amendments) Sync() error {
	if err := a.usable(); err != nil {
		return err
	}
	if err := a.write(); err != nil || a.file == nil {
		return err
	}
	err := a.file.Sync()
	if err == nil {
		err = a.disk.SyncDir(a.dir) // the file may be new
	}
	return a.disked(err)
}

// Close makes everything last, and lets others amend the session. Without a fact nothing is written.
func (a *Amendments) Close() error {
	if a.ended {
		return a.err
	}
	_ = a.Sync() // kept in err
	return a.end()
}

// Abandon ends the amendments without those facts that were appended since the last Sync. After
// Close it does nothing, so that it is right to defer it.
func (a *Amendments) Abandon() error {
	if a.ended {
		return nil
	}
	return a.end()
}

func (a *Amendments) end() error {
	a.ended = true
	if a.file != nil {
		_ = a.disked(a.file.Close())
	}
	if err := a.lock.Close(); err != nil && a.err == nil {
		a.err = unwritable(a.dir, err)
	}
	return a.err
}

// Chain returns the chain value after what is written: see Session.Chain.
func (a *Amendments) Chain() string { return a.chain }

func (a *Amendments) usable() error {
	if a.err != nil {
		return a.err
	}
	if a.ended {
		return errEnded
	}
	return nil
}

// disked keeps the first error of the disk.
func (a *Amendments) disked(err error) error {
	if err != nil && a.err == nil {
		a.err = unwritable(within(a.dir, addendaName), err)
	}
	return a.err
}
