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

// whoFile says which daemon has a folder. What counts is the lock on the folder itself, which goes with the program that
// has it, however that ends.
const whoFile = ".daemon"

// Hold takes a folder of sessions for the daemon that answers on l, as long as what it returns is open. Two daemons on one
// folder would write over each other's pairings, so where another has it, the error says which. A folder that cannot be
// opened, and a file system without locks, are nobody's: whoever has to write there says so.
func Hold(dir string, l net.Listener) (net.Listener, error) {
	f, err := os.Open(dir)
	if err != nil {
		return l, nil
	}
	who := filepath.Join(dir, whoFile)
	err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		said, _ := os.ReadFile(who) // it may be about to say
		_ = f.Close()
		return nil, &rig.FileError{File: dir, Byte: -1, Found: "the folder of a daemon that runs" + held(string(said)), Want: "one of its own",
			Do: "use the pages of that one, end it, or name another folder", Err: err}
	}
	// Who it is helps, but is not what protects: a full disk is no reason not to record.
	_ = os.WriteFile(who, fmt.Appendf(nil, "process %d, which answers on %s\n", os.Getpid(), l.Addr()), 0o644)
	return holding{l, f, who}, nil
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
	who    string
}

func (h holding) Close() error {
	_ = os.Remove(h.who)
	return errors.Join(h.Listener.Close(), h.folder.Close())
}
