// Package intact writes files and folders that are whole or not there: they are made under a hidden name beside
// their place and get their own name once all of them is written. Where that fails, what was there stays.
//
// The writer of sessions has its own way (rig/session): its disk fails on purpose in tests, and what a crash
// leaves half written has to be known by its name.
package intact

import (
	"bufio"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"quern/rig"
)

// Begun begins the names of what is not whole yet. A crash may leave such a file or folder behind.
const Begun = ".new-"

// File puts what write writes in the place of the file path, so that a loss of power leaves the old or the new. Where
// nothing can be made in its folder, the error is a [rig.FileError] about that.
func File(path string, mode fs.FileMode, write func(io.Writer) error) error {
	if err := put(path, mode, write, (*os.File).Sync); err != nil {
		return err
	}
	d, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// Remade is [File] without waiting for the disk: for what can be made again, and shows it if it is not whole.
func Remade(path string, mode fs.FileMode, write func(io.Writer) error) error {
	return put(path, mode, write, func(*os.File) error { return nil })
}

// Bytes writes b.
func Bytes(b []byte) func(io.Writer) error {
	return func(w io.Writer) error { _, err := w.Write(b); return err }
}

func put(path string, mode fs.FileMode, write func(io.Writer) error, sync func(*os.File) error) error {
	f, err := os.CreateTemp(filepath.Dir(path), Begun+"*")
	if err != nil {
		return noPlace(path, err)
	}
	if err = errors.Join(fill(f, write), f.Chmod(mode), sync(f), f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		_ = os.Remove(f.Name()) // the first error tells more
	}
	return err
}

func fill(f *os.File, write func(io.Writer) error) error {
	w := bufio.NewWriterSize(f, 1<<16)
	if err := write(w); err != nil {
		return err
	}
	return w.Flush()
}

// Folder makes the folder dir, where nothing may stand, of what fill puts into the folder that it is given.
func Folder(dir string, fill func(begun string) error) error {
	dir = filepath.Clean(dir)
	begun, err := os.MkdirTemp(filepath.Dir(dir), Begun+"*")
	if err != nil {
		return noPlace(dir, err)
	}
	if err = errors.Join(os.Chmod(begun, 0o755), fill(begun)); err == nil {
		err = os.Rename(begun, dir)
	}
	if err != nil {
		err = errors.Join(err, os.RemoveAll(begun))
	}
	return err
}

// noPlace says that nothing can be made in the folder of path.
func noPlace(path string, err error) error {
	return rig.Unopened(filepath.Dir(path), err, "a folder in which "+filepath.Base(path)+" can be written", "make it, or name another")
}
