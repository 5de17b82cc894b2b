package devices

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// serialPorts lists the serial ports: of USB, of the board, and of cards that are really there.
func (h Host) serialPorts() []Device {
	links := map[string]string{} // of the node: the name that udev makes of it
	for _, dir := range []string{"by-path", "by-id"} {
		entries, _ := os.ReadDir(h.path("dev/serial/" + dir)) // none without USB ports
		for _, e := range entries {
			name := filepath.Join("/dev/serial", dir, e.Name())
			if to, err := filepath.EvalSymlinks(h.path(name)); err == nil {
				links[dir+" "+filepath.Base(to)] = name
			}
		}
	}
	var out []Device
	for _, name := range h.ttys() {
		d := Device{Kind: Serial, Node: "/dev/" + name}
		h.usb(&d, "sys/class/tty/"+name+"/device")
		out = append(out, d)
	}
	for i := range out {
		d := &out[i]
		name := filepath.Base(d.Node)
		byID, byPath := links["by-id "+name], links["by-path "+name]
		alike := slices.ContainsFunc(out, func(o Device) bool {
			return o.Node != d.Node && o.Vendor != "" && o.Vendor == d.Vendor && o.Product == d.Product && o.Serial == d.Serial && !h.oneDevice(o.Node, d.Node)
		})
		switch {
		case alike && byPath != "":
			d.Name = byPath
			d.Notes = append(d.Notes, "another port cannot be told from this one but by its socket: always use the same socket, or set the serial number of one of them")
		case byID != "":
			d.Name = byID
		case byPath != "":
			d.Name = byPath
			d.Notes = append(d.Notes, "the name is that of the socket: always use the same one")
		default:
			d.Name = d.Node
			if d.Vendor != "" {
				d.Notes = append(d.Notes, "no name under /dev/serial stays the same for it (is udev running?): the number may change with the order of plugging")
			}
		}
		if h.console(name) {
			d.Notes = append(d.Notes, "the system's console is on this port: take it off (console= in the boot command line) before a device is connected")
		}
		d.Bench = fmt.Sprintf("[scale.device]\nkind = \"serial\"\n[scale.device.port]\ndevice = %s\n", quoted(d.Name))
		match, ok := d.matchUSB()
		if !ok {
			match = fmt.Sprintf(`KERNEL=="%s"`, name)
		}
		h.permit(d, []string{d.Node}, true, "dialout", `SUBSYSTEM=="tty", `+match, "")
	}
	return out
}

// ttys lists the names of serial ports, by kind and number.
func (h Host) ttys() []string {
	var out []string
	kinds := []string{"ttyUSB", "ttyACM", "ttyAMA", "ttyS"}
	split := func(name string) (kind, number int) {
		for i, k := range kinds {
			if rest, ok := strings.CutPrefix(name, k); ok {
				if n, err := strconv.Atoi(rest); err == nil && n >= 0 {
					return i, n
				}
			}
		}
		return -1, 0
	}
	entries, _ := os.ReadDir(h.path("dev")) // an empty list if there is none
	for _, e := range entries {
		kind, n := split(e.Name())
		if kind < 0 {
			continue
		}
		// The kernel makes nodes for ports that no board has; their type is 0, unknown.
		if t := h.read(fmt.Sprintf("sys/class/tty/ttyS%d/type", n)); kinds[kind] == "ttyS" && (t == "" || t == "0") {
			continue
		}
		out = append(out, e.Name())
	}
	slices.SortFunc(out, func(a, b string) int {
		ak, an := split(a)
		bk, bn := split(b)
		return cmp.Or(cmp.Compare(ak, bk), cmp.Compare(an, bn))
	})
	return out
}

// oneDevice says whether two ports are of one USB device: its ports share the serial number, and udev
// gives each a name of its own.
func (h Host) oneDevice(a, b string) bool {
	device := func(node string) string {
		at, err := filepath.EvalSymlinks(h.path("sys/class/tty/" + filepath.Base(node) + "/device"))
		for ; err == nil && len(at) > 1; at = filepath.Dir(at) {
			if _, err := os.Stat(filepath.Join(at, "idVendor")); err == nil {
				return at
			}
		}
		return node
	}
	return device(a) == device(b)
}

// console says whether the kernel writes its messages to a port.
func (h Host) console(name string) bool {
	for line := range strings.Lines(h.read("proc/consoles")) {
		if f := strings.Fields(line); len(f) > 0 && f[0] == name {
			return true
		}
	}
	return false
}
