// Package intact writes files and folders that are whole or not there: they are made under a name of their own beside
// their place and get their own name once all of them is written. Where that fails, what was there stays.
//
// What writes a file, and in which order things become lasting, stands in [Place] alone. The writer of sessions
// (rig/session) calls it too, on a [Disk] that fails on purpose in tests and under names by which a recovery knows what a
// crash left half written.
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

// Disk is what Place does to the file system but for the new file itself.
type Disk interface {
	Rename(from, to string) error
	RemoveAll(path string) error
	SyncDir(path string) error // makes the names in a folder last
}

// Fresh is what Place does to a new file.
type Fresh interface {
	io.Writer
	Sync() error
	Close() error
}

// OS is the real disk.
type OS struct{}

var _ Disk = OS{}

// Rename is that of package os.
func (OS) Rename(from, to string) error { return os.Rename(from, to) }

// RemoveAll is that of package os.
func (OS) RemoveAll(path string) error { return os.RemoveAll(path) }

// SyncDir makes the names in a folder last.
func (OS) SyncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// Place fills the new file f, which stands at begun, and puts it in the place of path, so that a loss of power leaves
// the old or the new: write, fsync, close, rename, fsync the folder. On an error path is as it was and begun has gone.
func Place(d Disk, f Fresh, begun, path string, write func(io.Writer) error) error {
	err := write(f)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = d.Rename(begun, path)
	}
	if err != nil {
		_ = d.RemoveAll(begun) // what is left of it does no harm, and the first error tells more
		return err
	}
	return d.SyncDir(filepath.Dir(path))
}

// File puts what write writes in the place of the file path. Where nothing can be made in its folder, the error is a
// [rig.FileError] about that.
func File(path string, mode fs.FileMode, write func(io.Writer) error) error {
	return put(path, mode, write, OS{}, func(f *os.File) Fresh { return f })
}

// Remade is [File] without waiting for the disk: for what can be made again, and shows it if it is not whole.
func Remade(path string, mode fs.FileMode, write func(io.Writer) error) error {
	return put(path, mode, write, hasty{}, func(f *os.File) Fresh { return hastyFile{f} })
}

// hasty waits for nothing.
type hasty struct{ OS }

func (hasty) SyncDir(string) error { return nil }

type hastyFile struct{ *os.File }

func (hastyFile) Sync() error { return nil }

// Bytes writes b.
func Bytes(b []byte) func(io.Writer) error {
	return func(w io.Writer) error { _, err := w.Write(b); return err }
}

func put(path string, mode fs.FileMode, write func(io.Writer) error, d Disk, as func(*os.File) Fresh) error {
	f, err := os.CreateTemp(filepath.Dir(path), Begun+"*")
	if err != nil {
		return noPlace(path, err)
	}
	return Place(d, as(f), f.Name(), path, func(io.Writer) error { return errors.Join(fill(f, write), f.Chmod(mode)) })
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
