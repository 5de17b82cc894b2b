package rig

import (
	"errors"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
	"syscall"
	"unicode"
	"unicode/utf8"
)

// FileError says where in a file something is wrong, what was found, what was expected and what to
// do. Line and Column count from 1; Byte is used where a file has no lines (-1: neither).
type FileError struct {
	File   string
	Line   int
	Column int
	Byte   int64 // offset from 0, shown only if Line is 0 and Byte >= 0
	Found  string
	Want   string
	Do     string
	Err    error // the cause, if one lies below
}

// Error returns one line: "bad.csv:3: found mass_g \"12,4\", expected a number such as 12.4: use a decimal point".
func (e *FileError) Error() string {
	var b strings.Builder
	b.WriteString(plain(e.File))
	switch {
	case e.Line > 0 && e.Column > 0:
		fmt.Fprintf(&b, ":%d:%d", e.Line, e.Column)
	case e.Line > 0:
		fmt.Fprintf(&b, ":%d", e.Line)
	case e.Byte >= 0:
		fmt.Fprintf(&b, ": byte %d", e.Byte)
	}
	fmt.Fprintf(&b, ": found %s", e.Found)
	if e.Want != "" {
		fmt.Fprintf(&b, ", expected %s", e.Want)
	}
	if e.Do != "" {
		fmt.Fprintf(&b, ": %s", e.Do)
	}
	return b.String()
}

// Unwrap returns the cause.
func (e *FileError) Unwrap() error { return e.Err }

// plain returns a name so that it stays on its line and cannot steer a terminal: control characters and what is no
// UTF-8 as in a Go string.
func plain(name string) string {
	if name == "" {
		return `""`
	}
	if utf8.ValidString(name) && !strings.ContainsFunc(name, unicode.IsControl) {
		return name
	}
	q := strconv.Quote(name)
	return q[1 : len(q)-1]
}

// Reason is an error without the operation and path that those of package os carry.
func Reason(err error) string {
	if p := (*fs.PathError)(nil); errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// Closed says what something is that could not be opened or read.
func Closed(err error) string {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "nothing of that name"
	case errors.Is(err, syscall.EISDIR):
		return "a folder"
	case errors.Is(err, syscall.ENOTDIR):
		return "a file in place of a folder"
	}
	return "what cannot be opened (" + Reason(err) + ")"
}

// Unopened says what was wrong with a file or folder that could not be opened or made.
func Unopened(name string, err error, want, do string) *FileError {
	return &FileError{File: name, Byte: -1, Found: Closed(err), Want: want, Do: do, Err: err}
}
