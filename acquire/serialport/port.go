// Package serialport opens serial ports, reads them until a context ends, and finds out how an unknown
// device speaks. Everything it says about a port says what to do.
package serialport

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"go.bug.st/serial"
	"golang.org/x/sys/unix"

	"quern/acquire"
	"quern/config"
	"quern/rig"
)

// Port is an open serial port. One goroutine may read while another writes.
type Port struct {
	device string
	// lib has set the line up and holds it exclusively; file is a descriptor of its own beside it, since only
	// reads through the runtime's poller can be ended at once and without a descriptor being closed under them.
	lib  serial.Port
	file *os.File
	shut sync.Once
}

// Open opens a port and sets it up. What the kernel had kept of an earlier time is thrown away, since
// nobody knows when it came. Errors are *rig.FileError.
func Open(cfg config.Port) (*Port, error) {
	mode, err := modeOf(cfg)
	if err != nil {
		return nil, err
	}
	if cfg.Device == "" {
		return nil, wrong("port.device", nil, "nothing", "the path of a port", "set it to "+present())
	}
	f, err := os.OpenFile(cfg.Device, os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, explain(cfg.Device, err)
	}
	p := &Port{device: cfg.Device, file: f}
	if err := p.setUp(cfg, mode); err != nil {
		p.Close()
		return nil, err
	}
	return p, nil
}

func (p *Port) setUp(cfg config.Port, mode *serial.Mode) error {
	var tty error
	if err := p.control(func(fd int) { _, tty = unix.IoctlGetTermios(fd, unix.TCGETS) }); err != nil {
		return explain(p.device, err)
	}
	if tty != nil {
		return wrong(p.device, tty, "something that is no serial port", "a serial port", "set device to "+present())
	}
	// The kernel's own lock binds all but root; this one binds whoever asks for it, another quern for one.
	var locked error
	if err := p.control(func(fd int) { locked = unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB) }); err != nil {
		return explain(p.device, err)
	}
	if locked != nil {
		return explain(p.device, unix.EBUSY)
	}
	lib, err := serial.Open(p.device, mode)
	if err != nil {
		return explain(p.device, err)
	}
	p.lib = lib
	var flow error
	if err := p.control(func(fd int) { flow = setFlow(fd, cfg.Flow) }); err != nil {
		return explain(p.device, err)
	}
	if flow != nil {
		return wrong(p.device, flow, "a port that refuses flow = \""+cfg.Flow+"\"", "one that takes it", "set flow to none")
	}
	return p.Flush()
}

// control runs f on the descriptor.
func (p *Port) control(f func(fd int)) error {
	raw, err := p.file.SyscallConn()
	if err != nil {
		return err
	}
	return raw.Control(func(fd uintptr) { f(int(fd)) })
}

// setFlow sets how the device is held back. The library only ever switches it off.
func setFlow(fd int, flow string) error {
	t, err := unix.IoctlGetTermios(fd, unix.TCGETS)
	if err != nil {
		return err
	}
	t.Cflag &^= unix.CRTSCTS
	t.Iflag &^= unix.IXON | unix.IXOFF | unix.IXANY
	switch flow {
	case "rts-cts":
		t.Cflag |= unix.CRTSCTS
	case "xon-xoff":
		t.Iflag |= unix.IXON | unix.IXOFF
		t.Cc[unix.VSTART], t.Cc[unix.VSTOP] = 0x11, 0x13 // XON, XOFF: DC1 and DC3 of ISO 646
	}
	return unix.IoctlSetTermios(fd, unix.TCSETS, t)
}

// Device returns the path of the port.
func (p *Port) Device() string { return p.device }

// Flush throws away what has come and was not read.
func (p *Port) Flush() error {
	if err := p.lib.ResetInputBuffer(); err != nil {
		return explain(p.device, err)
	}
	return nil
}

// Read hands over what comes, with the instant at which it was in hand, until ctx ends: then it returns
// nil. The bytes are valid until take returns. Any other end is an error.
func (p *Port) Read(ctx context.Context, take func(got time.Time, b []byte)) error {
	if err := p.file.SetReadDeadline(time.Time{}); err != nil {
		return explain(p.device, err)
	}
	defer acquire.Interrupt(ctx, p.file.SetReadDeadline)()
	buf := make([]byte, 4096)
	for {
		n, err := p.file.Read(buf)
		got := time.Now()
		if ctx.Err() != nil {
			return nil
		}
		if n > 0 {
			take(got, buf[:n])
		}
		switch {
		case errors.Is(err, io.EOF), err == nil && n == 0:
			// A line that hangs up reads as an end of file.
			return explain(p.device, unix.EIO)
		case err != nil:
			return explain(p.device, err)
		}
	}
}

// writeFor is how long a write may take. Requests and commands are some ten bytes, a third of a second at
// 300 baud; only flow control holds them longer.
const writeFor = time.Second

// Write sends b, or fails within writeFor or when ctx ends.
func (p *Port) Write(ctx context.Context, b []byte) error {
	if err := p.file.SetWriteDeadline(time.Now().Add(writeFor)); err != nil {
		return explain(p.device, err)
	}
	defer acquire.Interrupt(ctx, p.file.SetWriteDeadline)()
	if err := ctx.Err(); err != nil {
		return err
	}
	if _, err := p.file.Write(b); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return explain(p.device, err)
	}
	return nil
}

// Close closes the port.
func (p *Port) Close() {
	p.shut.Do(func() {
		if p.lib != nil {
			_ = p.lib.Close() // nothing was written through it
		}
		_ = p.file.Close()
	})
}

func modeOf(cfg config.Port) (*serial.Mode, error) {
	m := &serial.Mode{BaudRate: cfg.Baud, DataBits: cfg.DataBits}
	bad := func(key string, found any, want string) error {
		return wrong("port."+key, nil, fmt.Sprint(found), want, "see the device's manual, or let quern listen find it")
	}
	if cfg.Baud < 300 || cfg.Baud > 4000000 {
		return nil, bad("baud", cfg.Baud, "300 to 4000000")
	}
	if cfg.DataBits != 7 && cfg.DataBits != 8 {
		return nil, bad("data_bits", cfg.DataBits, "7 or 8")
	}
	switch cfg.Parity {
	case "none":
		m.Parity = serial.NoParity
	case "even":
		m.Parity = serial.EvenParity
	case "odd":
		m.Parity = serial.OddParity
	default:
		return nil, bad("parity", fmt.Sprintf("%q", cfg.Parity), "none, even or odd")
	}
	switch cfg.StopBits {
	case 1:
		m.StopBits = serial.OneStopBit
	case 2:
		m.StopBits = serial.TwoStopBits
	default:
		return nil, bad("stop_bits", cfg.StopBits, "1 or 2")
	}
	if !slices.Contains([]string{"none", "rts-cts", "xon-xoff"}, cfg.Flow) {
		return nil, bad("flow", fmt.Sprintf("%q", cfg.Flow), "none, rts-cts or xon-xoff")
	}
	return m, nil
}

// Check tells what is wrong with the description of a port, without opening it.
func Check(cfg config.Port) error {
	if cfg.Device == "" {
		return wrong("port.device", nil, "nothing", "the path of a port", "set it to "+present())
	}
	_, err := modeOf(cfg)
	return err
}

// explain says what to do about an error of a port.
func explain(device string, err error) error {
	var known *serial.PortError
	var errno syscall.Errno
	errors.As(err, &errno)
	code := serial.PortErrorCode(-1)
	if errors.As(err, &known) {
		code = known.Code()
	}
	switch {
	case errors.Is(err, os.ErrNotExist) || errno == unix.ENXIO || errno == unix.ENODEV || code == serial.PortNotFound:
		return wrong(device, err, "no such port", "one that is there", "plug the device in, or set device to "+present())
	case errors.Is(err, os.ErrPermission) || code == serial.PermissionDenied:
		return wrong(device, err, "a port that may not be opened", "permission to read and write", "add the user to the group dialout (sudo usermod -aG dialout USER, then log in again), or give the port MODE=\"0660\" and a GROUP by a udev rule")
	case errno == unix.EBUSY || code == serial.PortBusy:
		return wrong(device, err, "a port that another program holds", "a free one", "end that program (fuser "+device+" tells which), or a second quern")
	case errno == unix.EIO || errors.Is(err, os.ErrClosed) || code == serial.PortClosed:
		return wrong(device, err, "a line that has hung up", "a device at its end", "look at the plug, the cable and the device's supply")
	case errors.Is(err, os.ErrDeadlineExceeded):
		return wrong(device, err, "a line that takes nothing", "a device that listens", "look at flow: the device, or a wire that is missing, holds the line")
	case code == serial.InvalidSpeed || errno == unix.EINVAL:
		return wrong(device, err, "a port that refuses baud, data_bits, parity or stop_bits", "settings that it knows", "use the usual ones, such as 9600 baud and 8 data bits")
	case errno == unix.EISDIR:
		return wrong(device, err, "a folder", "a serial port", "set device to "+present())
	}
	return wrong(device, err, fmt.Sprintf("an error: %v", err), "a serial port that works", "pull the plug and put it back")
}

func wrong(where string, err error, found, want, do string) error {
	return &rig.FileError{File: where, Byte: -1, Found: found, Want: want, Do: do, Err: err}
}

// byID is where the kernel's device manager lists ports by the identity of their plugs.
const byID = "/dev/serial/by-id"

// present names the ports that are there.
func present() string {
	entries, err := os.ReadDir(byID)
	if err != nil || len(entries) == 0 {
		return "a path under " + byID + ", where no port is listed now: is the device plugged in?"
	}
	var names []string
	for _, e := range entries {
		names = append(names, byID+"/"+e.Name())
	}
	if len(names) == 1 {
		return names[0]
	}
	return "one of " + strings.Join(names, ", ")
}
