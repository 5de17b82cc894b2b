package devices

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"quern/acquire/iio"
)

// converters lists what stands under /sys/bus/iio, with its channels.
func (h Host) converters() []Device {
	units := iio.Units(h.Root)
	count := func(name string) (n int) {
		for _, u := range units {
			if u.Name == name || u.Label == name {
				n++
			}
		}
		return n
	}
	var out []Device
	for _, u := range units {
		d := Device{Kind: IIO, Node: "/dev/" + u.ID, Name: u.ID, Says: clean(strings.TrimSpace(u.Name + " " + u.Label))}
		switch {
		case u.Label != "" && count(u.Label) == 1 && u.Label == clean(u.Label):
			d.Name = u.Label
		case u.Name != "" && count(u.Name) == 1 && u.Name == clean(u.Name):
			d.Name = u.Name
		default:
			d.Notes = append(d.Notes, "nothing but its number tells it from another: the number may change with the order of plugging")
		}
		d.Channels = channels(u)
		var fast *Channel
		for i := range d.Channels {
			if d.Channels[i].Format != "" && fast == nil {
				fast = &d.Channels[i]
			}
		}
		// A converter with a buffer can take the clamp: its first channel is proposed.
		if fast != nil {
			d.Bench = clampLines(d.Name, *fast)
			d.Notes = append(d.Notes, "set rate_hz, and the counts that stand for no current and for full scale, as the clamp is wired")
			if len(d.Channels) > 1 {
				d.Notes = append(d.Notes, "many converters refuse single values while their buffer serves the clamp: take [[extra]] channels from another")
			}
		}
		needs := []string{d.Node}
		if fast == nil { // values are read under /sys, by everybody
			needs = nil
		}
		for _, c := range d.Channels {
			if c.Slow && (fast == nil || c.Name != fast.Name) {
				d.Bench += slowLines(d.Name, c.Name, len(units) > 1)
			}
		}
		match, ok := matchIIO(u)
		if !ok {
			match = fmt.Sprintf(`SUBSYSTEM=="iio", KERNEL=="%s"`, u.ID)
		}
		const settings = `, RUN+="/bin/sh -c 'chgrp -R plugdev /sys%p && chmod -R g+w /sys%p'"`
		h.permit(&d, needs, false, "plugdev", match, settings)
		// Its settings are files too, and the buffer is switched on by one of them.
		if enable := filepath.Join("/sys/bus/iio/devices", u.ID, "buffer/enable"); d.Readable && fast != nil {
			d.Readable = false
			h.permit(&d, []string{enable}, true, "plugdev", match, settings)
		}
		out = append(out, d)
	}
	return out
}

// matchIIO is the part of a udev rule that picks a converter by its name.
func matchIIO(u iio.Unit) (string, bool) {
	if u.Name == "" || u.Name != clean(u.Name) || strings.ContainsAny(u.Name, `"*?[]|\`) {
		return "", false
	}
	return fmt.Sprintf(`SUBSYSTEM=="iio", KERNEL=="iio:device*", ATTR{name}=="%s"`, u.Name), true
}

// channels lists the channels of a converter, with the form of the samples of those that have a buffer.
func channels(u iio.Unit) []Channel {
	var out []Channel
	for _, name := range iio.Channels(u) {
		if !slices.ContainsFunc(out, func(c Channel) bool { return c.Name == name }) {
			out = append(out, Channel{Name: name, Slow: true})
		}
	}
	for _, name := range iio.Scanned(u) {
		f, err := iio.FormatOf(u, name)
		if err != nil {
			continue
		}
		i := slices.IndexFunc(out, func(c Channel) bool { return c.Name == name })
		if i < 0 {
			i = len(out)
			out = append(out, Channel{Name: name})
		}
		out[i].Format = f.String()
	}
	slices.SortStableFunc(out, func(a, b Channel) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// clampLines are the lines for a clamp in the middle of a converter's range.
func clampLines(device string, c Channel) string {
	lines := fmt.Sprintf("[clamp.device]\nkind = \"iio\"\n[clamp.device.iio]\ndevice = %s\nchannel = %s\n", quoted(device), quoted(c.Name))
	f, err := iio.ParseFormat(c.Format)
	if err != nil || f.Bits > 32 { // more than bench.toml takes
		return lines
	}
	least, most := f.Range()
	full := (most - least + 1) / 2
	return lines + fmt.Sprintf("zero_counts = %.0f\nfull_scale_counts = %.0f\n", least+full, full)
}

// slowUnits says for kinds of channels what makes bench.toml's unit of what the kernel tells: Linux,
// Documentation/ABI/testing/sysfs-bus-iio. Other kinds are of no use to a bench.
var slowUnits = []struct {
	kind, unit, factor string
}{
	{"temp", "degC", "0.001"},                // thousandths of a degree Celsius
	{"voltage", "V", "0.001"},                // millivolts
	{"current", "A", "0.001"},                // milliamperes
	{"power", "W", "0.001"},                  // milliwatts
	{"pressure", "kPa", "1"},                 // kilopascals
	{"humidityrelative", "percent", "0.001"}, // thousandths of a percent
}

// slowLines are the lines for a slow channel; none for kinds that a bench does not use.
// With several converters the channel's id names the converter too.
func slowLines(device, channel string, several bool) string {
	for _, s := range slowUnits {
		rest, ok := strings.CutPrefix(channel, s.kind)
		if !ok || rest != "" && rest[0] >= 'a' && rest[0] <= 'z' {
			continue
		}
		id := channel
		if several {
			id = device + "-" + channel
		}
		id = strings.Trim(strings.ToLower(strings.Map(plain, id)), "-")
		id = id[:min(len(id), 63)] // what bench.toml takes
		return fmt.Sprintf("[[extra]]\nid = %s\nunit_word = \"%s\"\nkind = \"iio\"\nfactor = %s\n[extra.iio]\ndevice = %s\nchannel = %s\n",
			quoted(id), s.unit, s.factor, quoted(device), quoted(channel))
	}
	return ""
}
