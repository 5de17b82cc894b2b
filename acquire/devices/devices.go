// Package devices tells what is plugged in that a bench can use: under which name that stays the same, with
// which lines in bench.toml, and whether the user may read it. It opens no device.
package devices

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"unicode"

	"golang.org/x/sys/unix"
)

// Kind is what a device is to the system.
type Kind string

const (
	Serial Kind = "serial" // a serial port
	HID    Kind = "hid"    // a hidraw node
	Sound  Kind = "sound"  // a capture device of a sound card
	IIO    Kind = "iio"    // a converter or sensor under /sys/bus/iio
)

// Device is one thing that is plugged in. Texts under Says come from the device itself.
type Device struct {
	Kind     Kind      `json:"kind"`
	Name     string    `json:"name"` // to write in bench.toml
	Node     string    `json:"node"` // where it is now
	Says     string    `json:"says,omitempty"`
	Vendor   string    `json:"vendor,omitempty"`  // id, 4 hexadecimal digits
	Product  string    `json:"product,omitempty"` // id, 4 hexadecimal digits
	Serial   string    `json:"serial,omitempty"`
	Weighing bool      `json:"weighing,omitempty"` // a hidraw node of usage page 0x8D
	Channels []Channel `json:"channels,omitempty"`
	Bench    string    `json:"bench,omitempty"` // lines of bench.toml; empty: of no use to a bench
	Readable bool      `json:"readable"`        // by this user
	Do       string    `json:"do,omitempty"`    // what makes it readable
	Rule     string    `json:"rule,omitempty"`  // of udev, if one is needed
	Notes    []string  `json:"notes,omitempty"`
}

// Channel is one channel of a converter.
type Channel struct {
	Name   string `json:"name"`
	Slow   bool   `json:"slow"`             // can be read one value at a time
	Format string `json:"format,omitempty"` // of its samples in the buffer; empty: it has none
}

// Host is the system that is looked at.
type Host struct {
	Root string // "/", but for tests
	// Access returns nil if the user may read, or read and write, a file; nil asks the system.
	Access func(path string, write bool) error
}

// List returns what is plugged in, by kind and then in the system's order. What is not there, such as a
// system without sound cards, is no error.
func List(h Host) []Device {
	if h.Root == "" {
		h.Root = "/"
	}
	if h.Access == nil {
		h.Access = access
	}
	out := h.serialPorts()
	out = append(out, h.hidNodes()...)
	out = append(out, h.soundCards()...)
	return append(out, h.converters()...)
}

func access(path string, write bool) error {
	mode := uint32(unix.R_OK)
	if write {
		mode |= unix.W_OK
	}
	return unix.Faccessat(unix.AT_FDCWD, path, mode, unix.AT_EACCESS)
}

func (h Host) path(p string) string { return filepath.Join(h.Root, p) }

// read returns a small file without the blanks around it; "" if it cannot be read.
func (h Host) read(p string) string {
	const most = 65536 // more than any file that is read here has
	f, err := os.Open(h.path(p))
	if err != nil {
		return ""
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, most))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(strings.TrimRight(string(b), "\x00"))
}

// clean makes a text of a device fit to be shown: devices can say anything.
func clean(s string) string {
	const most = 120 // characters
	n := 0
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		n++
		switch {
		case n > most:
			return -1
		case unicode.IsPrint(r) && r != unicode.ReplacementChar:
			return r
		}
		return '?'
	}, strings.TrimSpace(s)))
}

// quoted writes a string of TOML.
func quoted(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(clean(s)) + `"`
}

// id returns an id of USB as udev writes it; "" if it is none.
func id(s string) string {
	n, err := strconv.ParseUint(strings.TrimSpace(s), 16, 32)
	if err != nil || n > 0xFFFF {
		return ""
	}
	return fmt.Sprintf("%04x", n)
}

// usb fills in what the USB device above a folder of sysfs says of itself.
func (h Host) usb(d *Device, dir string) {
	at, err := filepath.EvalSymlinks(h.path(dir))
	if err != nil {
		return
	}
	top, err := filepath.EvalSymlinks(h.path("sys"))
	if err != nil {
		return
	}
	for ; strings.HasPrefix(at, top+"/"); at = filepath.Dir(at) {
		rel := strings.TrimPrefix(at, strings.TrimSuffix(top, "/sys"))
		if d.Vendor = id(h.read(filepath.Join(rel, "idVendor"))); d.Vendor == "" {
			continue
		}
		d.Product = id(h.read(filepath.Join(rel, "idProduct")))
		d.Serial = clean(h.read(filepath.Join(rel, "serial")))
		d.Says = clean(h.read(filepath.Join(rel, "manufacturer")) + " " + h.read(filepath.Join(rel, "product")))
		return
	}
}

// matchUSB is the part of a udev rule that picks a USB device by its ids; false if it has none.
func (d *Device) matchUSB() (string, bool) {
	if d.Vendor == "" || d.Product == "" {
		return "", false
	}
	return fmt.Sprintf(`ATTRS{idVendor}=="%s", ATTRS{idProduct}=="%s"`, d.Vendor, d.Product), true
}

// ruleFile is where the rules that are proposed go.
const ruleFile = "/etc/udev/rules.d/70-quern.rules"

// permit looks whether the user may use files of d, and else says what to do: join the group that may, or
// write a rule that lets group in. match is the rule's part before the group, more what follows its mode.
func (h Host) permit(d *Device, files []string, write bool, group, match, more string) {
	mode := "0640"
	if write {
		mode = "0660"
	}
	for _, file := range files {
		err := h.Access(h.path(file), write)
		switch {
		case err == nil:
			continue
		case errors.Is(err, fs.ErrNotExist):
			d.Do = file + " is not there: plug it in again, or look whether udev runs"
			return
		}
		if g := groupOf(h.path(file), write); g != "" {
			d.Do = fmt.Sprintf("join the group that may: sudo usermod -aG %s USER, and log in again", g)
			return
		}
		d.Rule = fmt.Sprintf(`%s, GROUP="%s", MODE="%s"%s`, match, group, mode, more)
		d.Do = fmt.Sprintf("write the rule to %s; then sudo udevadm control --reload, sudo udevadm trigger, sudo usermod -aG %s USER, and log in again", ruleFile, group)
		return
	}
	d.Readable = true
}

// groupOf returns the name of the group that may use a file, if it is not root's own.
func groupOf(path string, write bool) string {
	info, err := os.Stat(path)
	if err != nil {
		return ""
	}
	need := fs.FileMode(0o040)
	if write {
		need = 0o060
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok || info.Mode()&need != need || st.Gid == 0 {
		return ""
	}
	g, err := user.LookupGroupId(strconv.FormatUint(uint64(st.Gid), 10))
	if err != nil {
		return ""
	}
	return g.Name
}
