package session

import (
	"errors"
	"io"
	"os"

	"quern/rig/intact"
)

// disk is what the writer does to the file system. Tests put one in its place that fails.
type disk interface {
	intact.Disk
	Mkdir(path string) error
	Create(path string) (file, error) // empty, whether or not it exists
	Append(path string) (file, error) // as it is, or new; writes go to its end
	Cut(path string, to int64) error  // takes off what a file holds from there on, and makes that last
}

// file is what the writer does to a file.
type file interface {
	io.WriteSeeker
	Sync() error
	Close() error
}

// osDisk is the real one.
type osDisk struct{ intact.OS }

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

func (osDisk) Cut(path string, to int64) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	if err = f.Truncate(to); err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// temporary is the ending of files and folders that are not whole yet.
const temporary = ".partial"

// writeWhole makes path hold what write writes, or leaves it as it was: see [intact.Place].
func writeWhole(d disk, path string, write func(io.Writer) error) error {
	f, err := d.Create(path + temporary)
	if err != nil {
		return err
	}
	return intact.Place(d, f, path+temporary, path, write)
}
