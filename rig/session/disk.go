package session

import (
	"io"
	"os"
	"path/filepath"
)

// disk is what the writer does to the file system. Tests put one in its place that fails.
type disk interface {
	Mkdir(path string) error
	Create(path string) (file, error) // empty, whether or not it exists
	Append(path string) (file, error) // as it is, or new; writes go to its end
	Rename(from, to string) error
	RemoveAll(path string) error
	SyncDir(path string) error
}

// file is what the writer does to a file.
type file interface {
	io.WriteSeeker
	Sync() error
	Close() error
}

// osDisk is the real one.
type osDisk struct{}

func (osDisk) Mkdir(path string) error { return os.Mkdir(path, 0o755) }

func (osDisk) Create(path string) (file, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return nil, err
	}
	return f, nil
}

func (osDisk) Append(path string) (file, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, err
	}
	return f, nil
}

func (osDisk) Rename(from, to string) error { return os.Rename(from, to) }
func (osDisk) RemoveAll(path string) error  { return os.RemoveAll(path) }

// SyncDir makes the names in a folder last.
func (osDisk) SyncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	err = d.Sync()
	if cerr := d.Close(); err == nil {
		err = cerr
	}
	return err
}

// temporary is the ending of files and folders that are not whole yet.
const temporary = ".partial"

// writeWhole makes path hold what write writes, or leaves it as it was: a temporary file in the
// same folder, write, fsync, close, rename, fsync the folder.
func writeWhole(d disk, path string, write func(io.Writer) error) error {
	temp := path + temporary
	f, err := d.Create(temp)
	if err != nil {
		return err
	}
	err = write(f)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = d.Rename(temp, path)
	}
	if err != nil {
		_ = d.RemoveAll(temp) // what is left of it does no harm, and the first error tells more
		return err
	}
	return d.SyncDir(filepath.Dir(path))
}
