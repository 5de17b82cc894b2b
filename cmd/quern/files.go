package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"quern/rig"
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
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+"-*")
	if err != nil {
		return usageError{unopened(filepath.Dir(name), err, "a folder in which "+filepath.Base(name)+" can be written", "make it, or name another")}
	}
	err = write(f)
	if err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		_ = os.Remove(f.Name()) // the first error tells more
	}
	return err
}

// unopened says what was wrong with a file or folder, without the system call that found it out.
func unopened(name string, err error, want, do string) error {
	found := err.Error()
	var p *fs.PathError
	switch {
	case errors.Is(err, fs.ErrNotExist):
		found = "nothing of that name"
	case errors.As(err, &p):
		found = p.Err.Error()
	}
	return &rig.FileError{File: name, Byte: -1, Found: found, Want: want, Do: do, Err: err}
}

// outFile is a file that is to be written.
type outFile struct {
	name  string
	write func(io.Writer) error
}

// writeFolder writes a folder with all its files, or none of it.
func writeFolder(dir string, files []outFile) error {
	tmp, err := os.MkdirTemp(filepath.Dir(filepath.Clean(dir)), "."+filepath.Base(dir)+"-*")
	if err != nil {
		return err
	}
	for _, f := range files {
		if err = writeInto(filepath.Join(tmp, f.name), f.write); err != nil {
			break
		}
	}
	if err == nil {
		err = errors.Join(os.Chmod(tmp, 0o755), os.Rename(tmp, dir))
	}
	if err != nil {
		_ = os.RemoveAll(tmp) // the first error tells more
	}
	return err
}

func writeInto(name string, write func(io.Writer) error) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Sync(), f.Close())
}
