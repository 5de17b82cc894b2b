package session

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"

	"quern/rig"
)

// errLocked says that another program has the lock of a folder.
var errLocked = errors.New("it is locked")

// Recorded reports whether err says that a session is being recorded at this moment.
func Recorded(err error) bool { return errors.Is(err, errRecorded) }

var errRecorded = errors.New("it is being recorded")

// lockUnsealed takes the lock of a session that is not sealed: whoever records it has it as long as it records.
// A file system without locks is no reason against recovering what stands on it, and gives nil.
func lockUnsealed(dir string) (*os.File, error) {
	lock, err := lockFolder(dir, false)
	if errors.Is(err, errLocked) {
		return nil, &rig.FileError{File: dir, Byte: -1, Found: "a session that is being recorded",
			Want: "an interrupted one", Do: "leave it to the program that records it, or end it there; nothing was changed", Err: errRecorded}
	}
	return lock, nil
}

// lockFolder takes the exclusive lock of a folder, which leaves nothing behind and goes when the file
// that it returns is closed or the program ends, however it ends. wait tells whether to wait for
// another program that has it.
func lockFolder(dir string, wait bool) (*os.File, error) {
	f, err := os.Open(dir)
	if err != nil {
		return nil, unreadable(dir, err, "a session folder")
	}
	how := unix.LOCK_EX
	if !wait {
		how |= unix.LOCK_NB
	}
	for {
		err = unix.Flock(int(f.Fd()), how)
		if !errors.Is(err, unix.EINTR) {
			break
		}
	}
	if err == nil {
		return f, nil
	}
	_ = f.Close() // the first error tells more
	if errors.Is(err, unix.EWOULDBLOCK) {
		return nil, &rig.FileError{File: dir, Byte: -1, Found: "a session that another program is amending",
			Want: "one at a time", Do: "wait until it has finished, then do this again; nothing was changed", Err: errLocked}
	}
	return nil, &rig.FileError{File: dir, Byte: -1, Found: "a folder that cannot be locked (" + err.Error() + ")",
		Want: "a file system with locks", Do: "amend it on a local disk", Err: err}
}
