// Package pty gives tests a serial port of the kernel: a pseudo-terminal whose far end plays the device.
package pty

import (
	"fmt"
	"os"
	"testing"

	"golang.org/x/sys/unix"
)

// Open returns the far end of a new pseudo-terminal, which plays the device, and the path of the port.
func Open(t testing.TB) (far *os.File, device string) {
	t.Helper()
	far, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err != nil {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	t.Cleanup(func() { far.Close() })
	raw, err := far.SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	var ioctl error
	if err := raw.Control(func(fd uintptr) {
		if ioctl = unix.IoctlSetPointerInt(int(fd), unix.TIOCSPTLCK, 0); ioctl == nil {
			n, ioctl = unix.IoctlGetInt(int(fd), unix.TIOCGPTN)
		}
	}); err != nil || ioctl != nil {
		t.Fatal(err, ioctl)
	}
	return far, fmt.Sprintf("/dev/pts/%d", n)
}
