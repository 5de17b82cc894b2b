package gate

import (
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/sys/unix"

	"quern/rig"
)

// holdFile is locked by the daemon whose folder it stands in, and says which that is. It stays behind: what counts is
// the lock, which goes with the program that has it, however that ends.
const holdFile = ".daemon"

// Hold takes a folder of sessions for the daemon that answers on l, as long as what it returns is open. Two daemons on one
// folder would write over each other's pairings, so where another has it, the error says which. A folder that cannot be
// written to, and a file system without locks, are nobody's: there nothing is written over.
func Hold(dir string, l net.Listener) (net.Listener, error) {
	f, err := os.OpenFile(filepath.Join(dir, holdFile), os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return l, nil // whoever has to write there says so
	}
	err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		who, _ := io.ReadAll(io.LimitReader(f, 200)) // it may be about to say
		_ = f.Close()
		return nil, &rig.FileError{File: dir, Byte: -1, Found: "the folder of a daemon that runs" + held(string(who)), Want: "one of its own",
			Do: "use the pages of that one, end it, or name another folder", Err: err}
	}
	// Who it is helps, but is not what protects: a full disk is no reason not to record.
	if err := f.Truncate(0); err == nil {
		_, _ = fmt.Fprintf(f, "process %d, which answers on %s\n", os.Getpid(), l.Addr())
	}
	return holding{l, f}, nil
}

// held puts what a daemon says of itself in brackets.
func held(who string) string {
	if who = strings.Join(strings.Fields(who), " "); who != "" {
		return fmt.Sprintf(" (%s)", who)
	}
	return ""
}

// holding gives the folder back when the port is closed.
type holding struct {
	net.Listener
	folder io.Closer
}

func (h holding) Close() error { return errors.Join(h.Listener.Close(), h.folder.Close()) }
