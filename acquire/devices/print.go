package devices

import (
	"bytes"
	"fmt"
	"io"
	"strings"
)

// Print writes a list for people.
func Print(w io.Writer, list []Device) error {
	var b bytes.Buffer
	for i, k := range []struct {
		kind       Kind
		what, none string
	}{
		{Serial, "Serial ports (the line device = ... goes under [scale.device.port], [clamp.device.port], [microphone.device.port] or [extra.port])", "no serial ports"},
		{HID, "HID nodes (USB scales)", "no HID nodes"},
		{Sound, "Sound cards that can record", "no sound cards that can record"},
		{IIO, "Converters and sensors of the kernel (IIO)", "no converters or sensors of the kernel (IIO)"},
	} {
		if i > 0 {
			b.WriteByte('\n')
		}
		n := 0
		for _, d := range list {
			if d.Kind != k.kind {
				continue
			}
			if n == 0 {
				fmt.Fprintf(&b, "%s\n", k.what)
			}
			n++
			d.print(&b)
		}
		if n == 0 {
			fmt.Fprintf(&b, "There are %s.\n", k.none)
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

func (d Device) print(b *bytes.Buffer) {
	switch {
	case d.Name == "" || d.Name == d.Node:
		fmt.Fprintf(b, "\n  %s\n", d.Node)
	default:
		fmt.Fprintf(b, "\n  %s, now %s\n", d.Name, d.Node)
	}
	line := func(key, value string) {
		if value != "" {
			fmt.Fprintf(b, "    %-12s%s\n", key, value)
		}
	}
	line("it says", d.Says)
	if d.Vendor != "" {
		ids := d.Vendor + ":" + d.Product
		if d.Serial != "" {
			ids += ", serial number " + d.Serial
		}
		line("ids", ids)
	}
	if d.Weighing {
		line("it is", "a scale")
	}
	for _, c := range d.Channels {
		how := "one value at a time"
		switch {
		case c.Format != "" && c.Slow:
			how += ", or samples as " + c.Format
		case c.Format != "":
			how = "samples as " + c.Format
		}
		line("channel", c.Name+": "+how)
	}
	switch {
	case d.Readable:
		line("readable", "yes")
	case d.Bench == "":
		line("readable", "no")
	default:
		line("readable", "no: "+d.Do)
	}
	line("udev rule", d.Rule)
	for _, n := range d.Notes {
		line("note", n)
	}
	if d.Bench != "" {
		line("bench.toml", strings.ReplaceAll(strings.TrimSpace(d.Bench), "\n", "\n"+strings.Repeat(" ", 16)))
	}
}
