package serialport

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// termios returns the settings of the port at the other end.
func termios(far *os.File) (s *unix.Termios, err error) {
	raw, err := far.SyscallConn()
	if err != nil {
		return nil, err
	}
	var ioctl error
	err = raw.Control(func(fd uintptr) { s, ioctl = unix.IoctlGetTermios(int(fd), unix.TCGETS2) })
	return s, errors.Join(err, ioctl)
}
