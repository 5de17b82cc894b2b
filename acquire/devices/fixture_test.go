package devices

import (
	"encoding/hex"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quern/config"
)

// tree makes a system: files with their text, and links ("-> target") beside them.
func tree(t testing.TB, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		var err error
		if to, ok := strings.CutPrefix(text, "-> "); ok {
			err = os.Symlink(to, path)
		} else {
			err = os.WriteFile(path, []byte(text), 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return root
}

const scaleDescriptor = "058D0920A1018503750895011501250809321971297881002 50C1951295C810015 81257F094181021500750 8950209408102C0"

// bench is a system with one of everything; all strings are invented.
func bench(t testing.TB) map[string]string {
	t.Helper()
	descriptor, err := hex.DecodeString(strings.ReplaceAll(scaleDescriptor, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return map[string]string{
		"dev/ttyUSB0":  "",
		"dev/ttyACM10": "",
		"dev/ttyACM9":  "",
		"dev/ttyAMA0":  "",
		"dev/ttyS0":    "",
		"dev/ttyS1":    "",
		"dev/ttyS":     "",
		"dev/tty1":     "",
		"dev/serial/by-id/usb-Example_Bridge_A1-if00":                 "-> ../../ttyUSB0",
		"dev/serial/by-path/pci-0-usb-0:1:1.0":                        "-> ../../ttyUSB0",
		"dev/serial/by-path/pci-0-usb-0:2:1.0":                        "-> ../../ttyACM9",
		"sys/class/tty/ttyUSB0":                                       "-> ../../devices/pci/usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0",
		"sys/devices/pci/usb1/1-1/1-1:1.0/ttyUSB0/tty/ttyUSB0/device": "-> ../../../ttyUSB0",
		"sys/devices/pci/usb1/1-1/idVendor":                           "0F0F\n",
		"sys/devices/pci/usb1/1-1/idProduct":                          "00a1\n",
		"sys/devices/pci/usb1/1-1/serial":                             "A1\n",
		"sys/devices/pci/usb1/1-1/manufacturer":                       "Example\n",
		"sys/devices/pci/usb1/1-1/product":                            "Bridge\x1b[31m\n",
		"sys/devices/pci/usb1/idVendor":                               "1d6b\n", // the hub, further up
		"sys/class/tty/ttyS0/type":                                    "4\n",
		"sys/class/tty/ttyS1/type":                                    "0\n",
		"proc/consoles":                                               "ttyAMA0   -W- (EC p a)    4:64\ntty0 -WU (E  p  )    4:2\n",
		"dev/hidraw0":                                                 "",
		"dev/hidraw1":                                                 "",
		"sys/class/hidraw/hidraw0/device/uevent":                      "DRIVER=hid-generic\nHID_ID=0003:00000F0F:000000B0\nHID_NAME=Example Keyboard\nHID_UNIQ=\n",
		"sys/class/hidraw/hidraw0/device/report_descriptor":           "\x05\x01\x09\x06\xa1\x01\xc0",
		"sys/class/hidraw/hidraw1/device/uevent":                      "HID_ID=0003:00000F0F:000000C1\nHID_NAME=Example Scale\nHID_UNIQ=77\n",
		"sys/class/hidraw/hidraw1/device/report_descriptor":           string(descriptor),
		"proc/asound/cards": " 0 [PCH            ]: HDA-Example - Example PCH\n                      Example PCH at 0xf7f10000 irq 31\n" +
			" 1 [Device         ]: USB-Audio - Example [Audio] Device\n                      Example at usb-1-2\n",
		"proc/asound/pcm":         "00-00: Analog : Analog : playback 1 : capture 1\n00-03: Digital : Digital : playback 1\n01-00: USB Audio : USB Audio : playback 1 : capture 1\n",
		"proc/asound/card1/usbid": "0f0f:00d1\n",
		"proc/asound/card1/stream0": "Example at usb-1-2 : USB Audio\n\nPlayback:\n  Interface 1\n    Altset 1\n    Format: S32_LE\n    Channels: 8\n    Rates: 48000\n\n" +
			"Capture:\n  Status: Stop\n  Interface 2\n    Altset 1\n    Format: S16_LE\n    Channels: 2\n    Rates: 8000, 44100\n" +
			"    Altset 2\n    Format: S24_3LE\n    Channels: 2\n    Endpoint: 0x82 (2 IN) (ASYNC)\n    Rates: 44100, 48000\n",
		"dev/snd/pcmC0D0c":                      "",
		"dev/snd/controlC0":                     "",
		"dev/snd/pcmC1D0c":                      "",
		"dev/snd/controlC1":                     "",
		"dev/iio:device0":                       "",
		iio0 + "name":                           "adc-a\n",
		iio0 + "in_voltage0_raw":                "1\n",
		iio0 + "in_temp_raw":                    "1\n",
		iio0 + "in_intensity_ir_raw":            "1\n",
		iio0 + "scan_elements/in_voltage0_en":   "0\n",
		iio0 + "scan_elements/in_voltage0_type": "le:u12/16>>0\n",
		iio0 + "scan_elements/in_timestamp_en":  "0\n",
		iio0 + "buffer/enable":                  "0\n",
	}
}

const iio0 = "sys/bus/iio/devices/iio:device0/"

func allowed(string, bool) error { return nil }

func denied(string, bool) error { return fs.ErrPermission }

// at returns the device that is now at a node.
func at(t testing.TB, list []Device, node string) Device {
	t.Helper()
	i := slices.IndexFunc(list, func(d Device) bool { return d.Node == node })
	if i < 0 {
		t.Fatalf("%s is not listed in %+v", node, list)
	}
	return list[i]
}

// parses reads proposed lines as a bench.
func parses(t testing.TB, lines string) config.Bench {
	t.Helper()
	text := "[unit]\nid = \"a\"\nrated_current_a = 1\n[procedure]\nid = \"p\"\n"
	for line := range strings.Lines(lines) {
		if name, ok := strings.CutPrefix(line, "[["); ok {
			line = "[[bench." + name
		} else if name, ok := strings.CutPrefix(line, "["); ok {
			line = "[bench." + name
		}
		text += line
	}
	s, err := config.ReadSetup("setup.toml", []byte(text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return s.Bench
}
