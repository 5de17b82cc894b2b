package session

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"quern/rig"
)

// Seal ends the session well: everything is written, every file's SHA-256 stands in the manifest,
// and a session that was built under a temporary name gets its own. Nothing can be added afterwards.
func (w *Writer) Seal() error {
	if err := w.usable(); err != nil {
		return err
	}
	if err := w.anchorGaps(); err != nil {
		return err
	}
	if err := w.Sync(); err != nil {
		return err
	}
	if err := w.closeFiles(); err != nil {
		return err
	}
	m, err := sealed(w.root, w.manifest)
	if err == nil {
		w.manifest = m
		err = w.writeManifest()
	}
	if err == nil && !w.live {
		err = w.moveIntoPlace()
	}
	if err := w.disked(manifestName, err); err != nil {
		return err
	}
	w.ended = true
	return nil
}

// Close ends the session as it is if Seal has not: a live one stays and can be recovered; one that
// is being imported is removed. It is right to defer it.
func (w *Writer) Close() error {
	if w.ended {
		return nil
	}
	if !w.live {
		return w.Abort()
	}
	err := w.Sync()
	if cerr := w.closeFiles(); err == nil {
		err = cerr
	}
	w.ended = true
	return err
}

// Abort removes all of a session that has not ended.
func (w *Writer) Abort() error {
	if w.ended {
		return nil
	}
	w.ended = true
	_ = w.closeFiles() // it is about to be removed
	if w.root == "" {
		return nil
	}
	if err := w.disk.RemoveAll(w.root); err != nil {
		return unwritable(w.root, err)
	}
	return nil
}

// closeFiles finishes and closes every file, whatever happens to the others.
func (w *Writer) closeFiles() error {
	for _, t := range w.tracks {
		if t.file == nil {
			continue
		}
		err := t.wave.Close()
		if err == nil {
			err = t.file.Sync()
		}
		if cerr := t.file.Close(); err == nil {
			err = cerr
		}
		t.file = nil
		_ = w.disked(t.entry.File, err)
	}
	if w.journal != nil {
		_ = w.disked(journalName, w.journal.Close())
		w.journal = nil
	}
	return w.err
}

// sealed returns the manifest with the checksum of every file under root.
func sealed(root string, m Manifest) (Manifest, error) {
	files, err := list(root)
	if err != nil {
		return m, err
	}
	m.State, m.Files = Sealed, []FileEntry{}
	for _, path := range files {
		e, err := fileEntry(root, path)
		if err != nil {
			return m, err
		}
		m.Files = append(m.Files, e)
	}
	m.Self = m.digest()
	return m, nil
}

// list returns the paths of all files under root but the manifest, sorted, with slashes.
func list(root string) ([]string, error) {
	var out []string
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		if rel = filepath.ToSlash(rel); rel != manifestName {
			out = append(out, rel)
		}
		return nil
	})
	slices.Sort(out)
	return out, err
}

// fileEntry reads a file as it lies on the disk.
func fileEntry(root, path string) (FileEntry, error) {
	name := within(root, path)
	if info, err := os.Lstat(name); err != nil {
		return FileEntry{}, err
	} else if !info.Mode().IsRegular() {
		return FileEntry{}, fmt.Errorf("%s is no regular file", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return FileEntry{}, err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	return FileEntry{Path: path, Bytes: n, SHA256: hex.EncodeToString(h.Sum(nil))}, err
}

// Verify compares every byte of a sealed session with what was sealed, and returns what differs:
// nothing if all is well. A session that is not sealed is itself a problem. The error is for what
// is no session at all.
func Verify(dir string) ([]*rig.FileError, error) {
	name := within(dir, manifestName)
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, unreadable(name, err, "a session folder with its manifest")
	}
	m, err := parseManifest(name, text)
	if err != nil {
		return nil, err
	}
	problem := func(file, found, want string) *rig.FileError {
		return &rig.FileError{File: file, Byte: -1, Found: found, Want: want, Do: "restore it from a copy"}
	}
	if m.State != Sealed {
		p := problem(name, "a session that is not sealed", "a sealed one")
		p.Do = "recover and seal it first"
		return []*rig.FileError{p}, nil
	}
	var out []*rig.FileError
	if own, err := m.encode(); err != nil || !m.proves() || string(own) != string(text) {
		out = append(out, problem(name, "a manifest that was changed", "the one that was sealed"))
	}
	present, err := list(dir)
	if err != nil {
		return nil, unreadable(dir, err, "a session folder")
	}
	for _, want := range m.Files {
		got, err := fileEntry(dir, want.Path)
		if i, ok := slices.BinarySearch(present, want.Path); ok {
			present = slices.Delete(present, i, i+1)
		}
		switch at := within(dir, want.Path); {
		case errors.Is(err, fs.ErrNotExist):
			out = append(out, problem(at, "no file", "the one that was sealed"))
		case err != nil:
			out = append(out, problem(at, "a file that cannot be read ("+reason(err)+")", "the one that was sealed"))
		case got != want:
			out = append(out, problem(at, "SHA-256 "+got.SHA256, "SHA-256 "+want.SHA256))
		}
	}
	for _, path := range present {
		p := problem(within(dir, path), "a file that was not sealed", "no file")
		p.Do = "move it elsewhere"
		out = append(out, p)
	}
	return out, nil
}
