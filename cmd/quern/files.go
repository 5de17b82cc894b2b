package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"quern/rig"
	"quern/rig/intact"
)

// labFS opens a lab folder.
func labFS(dir string) fs.FS { return os.DirFS(dir) }

// openFile opens a file that is to be read.
func openFile(name string) (*os.File, int64, error) {
	fault := func(found string) (*os.File, int64, error) {
		return nil, 0, &rig.FileError{File: name, Byte: -1, Found: found, Want: "a WAV file", Do: "see 'quern align --help' for how to make one"}
	}
	f, err := os.Open(name)
	if err != nil {
		return fault("nothing that can be opened")
	}
	info, err := f.Stat()
	if err != nil || info.IsDir() {
		_ = f.Close() // nothing was written
		return fault("no file")
	}
	return f, info.Size(), nil
}

// writeNew writes a file that must not exist; nothing half-written stays.
func writeNew(name string, write func(io.Writer) error) error {
	if _, err := os.Lstat(name); err == nil {
		return usageError{fmt.Errorf("%s exists: choose another name; nothing was touched", name)}
	}
	return writeOver(name, write)
}

// writeOver puts a whole file in the place of another, or leaves what was there.
func writeOver(name string, write func(io.Writer) error) error {
	err := intact.File(name, 0o644, write)
	if place := (*rig.FileError)(nil); errors.As(err, &place) {
		return usageError{err}
	}
	return err
}

// outFile is a file that is to be written.
type outFile struct {
	name  string
	write func(io.Writer) error
}

// writeFolder writes a new folder with all its files, or none of it.
func writeFolder(dir string, files []outFile) error {
	return intact.Folder(dir, func(begun string) error {
		for _, f := range files {
			path := filepath.Join(begun, f.name)
			if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), intact.File(path, 0o644, f.write)); err != nil {
				return err
			}
		}
		return nil
	})
}
