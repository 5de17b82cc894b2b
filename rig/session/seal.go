package session

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
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
	w.end()
	return nil
}

// end lets go of the session: nothing can be added, and others may.
func (w *Writer) end() {
	w.ended = true
	if w.lock != nil {
		_ = w.lock.Close() // nothing was written to it
		w.lock = nil
	}
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
	w.end()
	return err
}

// Abort removes all of a session that has not ended.
func (w *Writer) Abort() error {
	if w.ended {
		return nil
	}
	defer w.end()
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
	_ = w.settle() // kept in err
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

// openRegular opens a file for reading, unless it is a link, a folder or a device.
func openRegular(name string) (*os.File, error) {
	info, err := os.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, &fs.PathError{Op: "open", Path: name, Err: errors.New("no regular file")}
	}
	return os.Open(name)
}

// fileEntry reads a file as it lies on the disk.
func fileEntry(root, path string) (FileEntry, error) {
	f, err := openRegular(within(root, path))
	if err != nil {
		return FileEntry{}, err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	return FileEntry{Path: path, Bytes: n, SHA256: hex.EncodeToString(h.Sum(nil))}, err
}
