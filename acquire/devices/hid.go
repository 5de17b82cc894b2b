package devices

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"quern/acquire/hid"
)

// hidNodes lists the hidraw nodes. Those that are no scale, such as keyboards, get no lines and no rule.
func (h Host) hidNodes() []Device {
	dirs, _ := filepath.Glob(h.path("sys/class/hidraw/hidraw*")) // the pattern is sound
	number := func(dir string) int {
		n, err := strconv.Atoi(strings.TrimPrefix(filepath.Base(dir), "hidraw"))
		if err != nil {
			return 1 << 30
		}
		return n
	}
	slices.SortFunc(dirs, func(a, b string) int { return cmp.Compare(number(a), number(b)) })
	var out []Device
	var matches []string
	scales := 0
	for _, dir := range dirs {
		name := filepath.Base(dir)
		d := Device{Kind: HID, Node: "/dev/" + name}
		match := h.hidIdentity(&d, "sys/class/hidraw/"+name+"/device")
		if b, err := os.ReadFile(filepath.Join(dir, "device/report_descriptor")); err == nil {
			d.Weighing = hid.Weighing(b)
			if _, err := hid.Layouts(b); d.Weighing && err != nil {
				d.Notes = append(d.Notes, "its report descriptor cannot be used: "+err.Error())
			}
		}
		if d.Weighing {
			scales++
		}
		out, matches = append(out, d), append(matches, match)
	}
	for i := range out {
		d := &out[i]
		d.Name = d.Node
		if !d.Weighing {
			d.Readable = h.Access(h.path(d.Node), false) == nil
			d.Notes = append(d.Notes, "no scale")
			continue
		}
		link := ""
		if scales == 1 {
			d.Name = "" // the first weighing device
		} else {
			tell := cmp.Or(d.Serial, d.Vendor+"-"+d.Product)
			link = fmt.Sprintf(`, SYMLINK+="scale-%s"`, strings.Map(plain, tell))
			d.Notes = append(d.Notes, fmt.Sprintf("one of %d scales: its number may change with the order of plugging; a rule that ends with %s gives it a name that stays", scales, link[2:]))
		}
		d.Bench = fmt.Sprintf("[scale.device]\nkind = \"hid\"\nhidraw = %s\n", quoted(d.Name))
		h.permit(d, []string{d.Node}, false, "plugdev", matches[i], link)
		if link != "" && d.Rule == "" {
			d.Rule = matches[i] + link
		}
	}
	return out
}

// plain keeps what may stand in a name under /dev.
func plain(r rune) rune {
	if r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
		return r
	}
	return '-'
}

// hidIdentity fills in who a device says it is, and returns the part of a udev rule that picks it.
func (h Host) hidIdentity(d *Device, dir string) (match string) {
	const kernel = `KERNEL=="hidraw*", SUBSYSTEM=="hidraw"`
	bus := ""
	for line := range strings.Lines(h.read(dir + "/uevent")) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), "=")
		switch key {
		case "HID_ID": // bus:vendor:product
			if p := strings.Split(value, ":"); len(p) == 3 {
				bus, d.Vendor, d.Product = id(p[0]), id(p[1]), id(p[2])
			}
		case "HID_NAME":
			d.Says = clean(value)
		case "HID_UNIQ":
			d.Serial = clean(value)
		}
	}
	const usbBus = "0003" // BUS_USB of linux/input.h
	usb, ok := d.matchUSB()
	switch {
	case ok && bus == usbBus:
		return kernel + ", " + usb
	case ok:
		return kernel + fmt.Sprintf(`, KERNELS=="%s:%s:%s.*"`, strings.ToUpper(bus), strings.ToUpper(d.Vendor), strings.ToUpper(d.Product))
	}
	return kernel
}
