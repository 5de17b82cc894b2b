package devices

import (
	"bytes"
	"encoding/json"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"
)

func TestList(t *testing.T) {
	list := List(Host{Root: tree(t, bench(t)), Access: allowed})
	var nodes []string
	for _, d := range list {
		nodes = append(nodes, d.Node)
		if !d.Readable || d.Do != "" || d.Rule != "" {
			t.Errorf("%s: readable %v, do %q, rule %q", d.Node, d.Readable, d.Do, d.Rule)
		}
	}
	want := "/dev/ttyUSB0 /dev/ttyACM9 /dev/ttyACM10 /dev/ttyAMA0 /dev/ttyS0 /dev/hidraw0 /dev/hidraw1 /dev/snd/pcmC0D0c /dev/snd/pcmC1D0c /dev/iio:device0"
	if got := strings.Join(nodes, " "); got != want {
		t.Errorf("listed %s\nexpected %s", got, want)
	}

	d := at(t, list, "/dev/ttyUSB0")
	if d.Name != "/dev/serial/by-id/usb-Example_Bridge_A1-if00" || d.Vendor != "0f0f" || d.Product != "00a1" || d.Serial != "A1" || d.Says != "Example Bridge?[31m" {
		t.Errorf("%+v", d)
	}
	if b := parses(t, d.Bench); b.Scale.Device.Kind != "serial" || b.Scale.Device.Port.Device != d.Name {
		t.Errorf("%s is read as %+v", d.Bench, b.Scale.Device)
	}
	if d := at(t, list, "/dev/ttyACM9"); d.Name != "/dev/serial/by-path/pci-0-usb-0:2:1.0" || !strings.Contains(d.Notes[0], "socket") {
		t.Errorf("%+v", d)
	}
	if d := at(t, list, "/dev/ttyAMA0"); d.Name != d.Node || !strings.Contains(d.Notes[0], "console") {
		t.Errorf("%+v", d)
	}
	if d := at(t, list, "/dev/hidraw0"); d.Weighing || d.Bench != "" || d.Says != "Example Keyboard" {
		t.Errorf("%+v", d)
	}
	d = at(t, list, "/dev/hidraw1")
	if !d.Weighing || d.Name != "" || d.Vendor != "0f0f" || d.Product != "00c1" || d.Serial != "77" || len(d.Notes) != 0 {
		t.Errorf("%+v", d)
	}
	if b := parses(t, d.Bench); b.Scale.Device.Kind != "hid" || b.Scale.Device.Hidraw != "" {
		t.Errorf("%s is read as %+v", d.Bench, b.Scale.Device)
	}
	d = at(t, list, "/dev/snd/pcmC1D0c")
	if d.Name != "hw:CARD=Device,DEV=0" || d.Vendor != "0f0f" || d.Product != "00d1" || d.Says != "USB-Audio - Example [Audio] Device: USB Audio" {
		t.Errorf("%+v", d)
	}
	if a := parses(t, d.Bench).Microphone.Device.ALSA; a.Device != d.Name || a.RateHz != 48000 || a.Format != "S24_3LE" || a.Channels != 2 {
		t.Errorf("%s is read as %+v", d.Bench, a)
	}
	if d := at(t, list, "/dev/snd/pcmC0D0c"); d.Name != "hw:CARD=PCH,DEV=0" || parses(t, d.Bench).Microphone.Device.ALSA.Device != d.Name || !strings.Contains(d.Notes[0], "--dump-hw-params") {
		t.Errorf("%+v", d)
	}
	d = at(t, list, "/dev/iio:device0")
	if want := []Channel{{"intensity_ir", true, ""}, {"temp", true, ""}, {"voltage0", true, "le:u12/16>>0"}}; d.Name != "adc-a" || !slices.Equal(d.Channels, want) {
		t.Errorf("%+v, expected %v", d, want)
	}
	b := parses(t, d.Bench)
	if i := b.Clamp.Device.IIO; i.Device != "adc-a" || i.Channel != "voltage0" || i.ZeroCounts != 2048 || i.CountsFull != 2048 {
		t.Errorf("%s is read as %+v", d.Bench, i)
	}
	if len(b.Extra) != 1 || b.Extra[0].ID != "temp" || b.Extra[0].Unit != "degC" || b.Extra[0].Factor != 0.001 || b.Extra[0].IIO.Channel != "temp" {
		t.Errorf("%s is read as %+v", d.Bench, b.Extra)
	}
}

func TestRules(t *testing.T) {
	root := tree(t, bench(t))
	list := List(Host{Root: root, Access: denied})
	for node, want := range map[string]string{
		"/dev/ttyUSB0":      `SUBSYSTEM=="tty", ATTRS{idVendor}=="0f0f", ATTRS{idProduct}=="00a1", GROUP="dialout", MODE="0660"`,
		"/dev/ttyAMA0":      `SUBSYSTEM=="tty", KERNEL=="ttyAMA0", GROUP="dialout", MODE="0660"`,
		"/dev/hidraw0":      "", // a keyboard is opened to nobody
		"/dev/hidraw1":      `KERNEL=="hidraw*", SUBSYSTEM=="hidraw", ATTRS{idVendor}=="0f0f", ATTRS{idProduct}=="00c1", GROUP="plugdev", MODE="0640"`,
		"/dev/snd/pcmC1D0c": `SUBSYSTEM=="sound", ATTRS{idVendor}=="0f0f", ATTRS{idProduct}=="00d1", GROUP="audio", MODE="0660"`,
		"/dev/iio:device0":  `SUBSYSTEM=="iio", KERNEL=="iio:device*", ATTR{name}=="adc-a", GROUP="plugdev", MODE="0640", RUN+="/bin/sh -c 'chgrp -R plugdev /sys%p && chmod -R g+w /sys%p'"`,
	} {
		d := at(t, list, node)
		if d.Readable || d.Rule != want || (want != "") != strings.Contains(d.Do, ruleFile) {
			t.Errorf("%s: readable %v, do %q, rule\n%s, expected\n%s", node, d.Readable, d.Do, d.Rule, want)
		}
	}

	// The node of a converter may be read, but not its settings be changed.
	list = List(Host{Root: root, Access: func(path string, write bool) error {
		if write && strings.HasSuffix(path, "buffer/enable") {
			return fs.ErrPermission
		}
		return nil
	}})
	if d := at(t, list, "/dev/iio:device0"); d.Readable || d.Rule == "" {
		t.Errorf("%+v", d)
	}
	// Nobody but a member may use the port: no rule is needed.
	g, err := user.LookupGroup("dialout")
	if err != nil {
		t.Skip(err)
	}
	gid, err := strconv.Atoi(g.Gid)
	if err != nil {
		t.Fatal(err)
	}
	port := filepath.Join(root, "dev/ttyUSB0")
	if err := os.Chown(port, -1, gid); err != nil {
		t.Skip(err)
	}
	for mode, rule := range map[fs.FileMode]bool{0o660: false, 0o640: true} {
		if err := os.Chmod(port, mode); err != nil {
			t.Fatal(err)
		}
		d := at(t, List(Host{Root: root, Access: denied}), "/dev/ttyUSB0")
		if (d.Rule != "") != rule || !strings.Contains(d.Do, "usermod -aG dialout USER") {
			t.Errorf("mode %o: do %q, rule %q", mode, d.Do, d.Rule)
		}
	}
}

func TestAlike(t *testing.T) {
	files := bench(t)
	for name, text := range map[string]string{
		// A second bridge that says the same of itself, and a second port of the first.
		"dev/ttyUSB1":                                 "",
		"dev/ttyUSB2":                                 "",
		"sys/class/tty/ttyUSB1/device":                "-> ../../../devices/pci/usb1/1-3/1-3:1.0/ttyUSB1",
		"sys/class/tty/ttyUSB2/device":                "-> ../../../devices/pci/usb1/1-1/1-1:1.1/ttyUSB2",
		"sys/devices/pci/usb1/1-3/1-3:1.0/ttyUSB1/x":  "",
		"sys/devices/pci/usb1/1-1/1-1:1.1/ttyUSB2/x":  "",
		"sys/devices/pci/usb1/1-3/idVendor":           "0f0f\n",
		"sys/devices/pci/usb1/1-3/idProduct":          "00a1\n",
		"sys/devices/pci/usb1/1-3/serial":             "A1\n",
		"dev/serial/by-path/pci-0-usb-0:3:1.0":        "-> ../../ttyUSB1",
		"dev/serial/by-path/pci-0-usb-0:1:1.1":        "-> ../../ttyUSB2",
		"dev/serial/by-id/usb-Example_Bridge_A1-if01": "-> ../../ttyUSB2",
		// A second scale, a second card, a second converter of the same name.
		"dev/hidraw2":                                       "",
		"sys/class/hidraw/hidraw2/device/uevent":            "HID_ID=0005:00000F0F:000000C2\nHID_UNIQ=\n",
		"sys/class/hidraw/hidraw2/device/report_descriptor": files["sys/class/hidraw/hidraw1/device/report_descriptor"],
		"proc/asound/cards":                                 files["proc/asound/cards"] + " 2 [Device_1       ]: USB-Audio - Example\n",
		"proc/asound/pcm":                                   files["proc/asound/pcm"] + "02-00: USB Audio : USB Audio : capture 1\n",
		"proc/asound/card2/usbid":                           "0f0f:00d1\n",
		"sys/bus/iio/devices/iio:device1/name":              "adc-a\n",
		"sys/bus/iio/devices/iio:device1/label":             "clamp \"A\"\n",
		"sys/bus/iio/devices/iio:device1/in_temp_input":     "1\n",
	} {
		files[name] = text
	}
	list := List(Host{Root: tree(t, files), Access: allowed})
	for node, want := range map[string]string{
		"/dev/ttyUSB0":     "/dev/serial/by-path/pci-0-usb-0:1:1.0",
		"/dev/ttyUSB1":     "/dev/serial/by-path/pci-0-usb-0:3:1.0",
		"/dev/ttyUSB2":     "/dev/serial/by-path/pci-0-usb-0:1:1.1",
		"/dev/hidraw1":     "/dev/hidraw1",
		"/dev/hidraw2":     "/dev/hidraw2",
		"/dev/iio:device0": "iio:device0",
		"/dev/iio:device1": `clamp "A"`,
	} {
		if d := at(t, list, node); d.Name != want {
			t.Errorf("%s is named %q, expected %q", node, d.Name, want)
		}
	}
	if d := at(t, list, "/dev/hidraw1"); !strings.HasSuffix(d.Rule, `ATTRS{idProduct}=="00c1", SYMLINK+="scale-77"`) || !d.Readable {
		t.Errorf("%+v", d)
	}
	if d := at(t, list, "/dev/hidraw2"); d.Rule != `KERNEL=="hidraw*", SUBSYSTEM=="hidraw", KERNELS=="0005:0F0F:00C2.*", SYMLINK+="scale-0f0f-00c2"` {
		t.Errorf("%+v", d)
	}
	if d := at(t, list, "/dev/snd/pcmC2D0c"); d.Name != "hw:CARD=Device_1,DEV=0" || !strings.Contains(strings.Join(d.Notes, "\n"), "another card is like this one") {
		t.Errorf("%+v", d)
	}
	if b := parses(t, at(t, list, "/dev/iio:device1").Bench); len(b.Extra) != 1 || b.Extra[0].ID != "clamp--a--temp" || b.Extra[0].IIO.Device != `clamp "A"` {
		t.Errorf("read as %+v", b.Extra)
	}
	// Two ports of one device are told apart by their names as long as it is the only one of its kind.
	delete(files, "dev/ttyUSB1")
	list = List(Host{Root: tree(t, files), Access: allowed})
	if d := at(t, list, "/dev/ttyUSB2"); d.Name != "/dev/serial/by-id/usb-Example_Bridge_A1-if01" {
		t.Errorf("%+v", d)
	}
}

func TestPrint(t *testing.T) {
	files := bench(t)
	var b bytes.Buffer
	if err := Print(&b, List(Host{Root: tree(t, files), Access: denied})); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"[extra.port])\n\n  /dev/serial/by-id/usb-Example_Bridge_A1-if00, now /dev/ttyUSB0\n    it says     Example Bridge?[31m\n    ids         0f0f:00a1, serial number A1\n    readable    no: write the rule to",
		"    udev rule   SUBSYSTEM==\"tty\"",
		"    bench.toml  [scale.device]\n                kind = \"serial\"\n                [scale.device.port]\n                device = \"/dev/serial/by-id/usb-Example_Bridge_A1-if00\"\n",
		"  /dev/hidraw1\n    it says     Example Scale\n    ids         0f0f:00c1, serial number 77\n    it is       a scale\n",
		"    channel     voltage0: one value at a time, or samples as le:u12/16>>0\n",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%s\nlacks\n%s", b.String(), want)
		}
	}
	for _, r := range b.String() {
		if !unicode.IsPrint(r) && r != '\n' {
			t.Errorf("%q is printed", r)
		}
	}
	b.Reset()
	if err := Print(&b, List(Host{Root: t.TempDir()})); err != nil {
		t.Fatal(err)
	}
	if want := "There are no serial ports.\n\nThere are no HID nodes.\n\nThere are no sound cards that can record.\n\nThere are no converters or sensors of the kernel (IIO).\n"; b.String() != want {
		t.Errorf("an empty system is told as\n%s", b.String())
	}
	whole, err := json.Marshal(List(Host{Root: tree(t, files), Access: allowed}))
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"kind":"hid","name":"","node":"/dev/hidraw1","says":"Example Scale","vendor":"0f0f","product":"00c1","serial":"77","weighing":true,"bench":"[scale.device]\nkind = \"hid\"\nhidraw = \"\"\n","readable":true}`; !strings.Contains(string(whole), want) {
		t.Errorf("%s\nlacks\n%s", whole, want)
	}
}

func TestListHere(t *testing.T) {
	for _, d := range List(Host{}) { // whatever this system has
		if d.Node == "" || !d.Readable && d.Do == "" && d.Bench != "" {
			t.Errorf("%+v", d)
		}
		if d.Bench != "" {
			parses(t, d.Bench)
		}
	}
}

// FuzzTexts: whatever the kernel's texts and the devices' strings are, the lines that are proposed can be
// read, a rule is one line, and nothing is printed that a terminal would obey.
func FuzzTexts(f *testing.F) {
	b := bench(f)
	f.Add(b["proc/asound/cards"], b["proc/asound/pcm"], b["proc/asound/card1/stream0"], "HID_ID=0003:00000F0F:000000C1\nHID_NAME=\x1b[31m", "adc-a", "le:u12/16>>0")
	f.Add(" 1 [a\"b]: x\n", "01-00: a : b : capture 1\n01--1: : capture 1\n", "Capture:\nAltset 1\nFormat: S16_LE\nChannels: 1\nRates: 8000 - 48000 (continuous)", "", "a\"\nb", "le:s64/64>>0")
	f.Fuzz(func(t *testing.T, cards, pcm, stream, uevent, name, format string) {
		root := tree(t, map[string]string{
			"proc/asound/cards": cards, "proc/asound/pcm": pcm, "proc/asound/card1/stream0": stream,
			"sys/class/hidraw/hidraw1/device/uevent": uevent, "sys/class/hidraw/hidraw1/device/report_descriptor": b["sys/class/hidraw/hidraw1/device/report_descriptor"],
			iio0 + "name": name, iio0 + "in_temp_raw": "1", iio0 + "scan_elements/in_voltage0_en": "0", iio0 + "scan_elements/in_voltage0_type": format,
		})
		list := List(Host{Root: root, Access: denied})
		for _, d := range list {
			if strings.ContainsAny(d.Rule, "\n") {
				t.Fatalf("%q", d.Rule)
			}
			if d.Bench != "" {
				parses(t, d.Bench)
			}
		}
		var out bytes.Buffer
		if err := Print(&out, list); err != nil {
			t.Fatal(err)
		}
		for _, r := range out.String() {
			if !unicode.IsPrint(r) && r != '\n' {
				t.Fatalf("%q is printed", r)
			}
		}
	})
}
