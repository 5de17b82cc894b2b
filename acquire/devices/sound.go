package devices

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// soundCards lists the capture devices of sound cards.
func (h Host) soundCards() []Device {
	cards := h.cards()
	var out []Device
	for line := range strings.Lines(h.read("proc/asound/pcm")) {
		// "01-00: name : name : playback 1 : capture 1"
		place, rest, ok := strings.Cut(strings.TrimSpace(line), ":")
		card, dev, dashed := strings.Cut(place, "-")
		c, err := strconv.Atoi(card)
		n, err2 := strconv.Atoi(dev)
		if !ok || !dashed || err != nil || err2 != nil || c < 0 || n < 0 {
			continue
		}
		parts := strings.Split(rest, " : ")
		if !slices.ContainsFunc(parts, func(p string) bool { return strings.HasPrefix(strings.TrimSpace(p), "capture ") }) {
			continue
		}
		info := cards[c]
		name := info.id
		if name == "" {
			name = strconv.Itoa(c)
		}
		d := Device{Kind: Sound, Node: fmt.Sprintf("/dev/snd/pcmC%dD%dc", c, n), Name: fmt.Sprintf("hw:CARD=%s,DEV=%d", name, n),
			Vendor: info.vendor, Product: info.product}
		d.Says = clean(info.says + ": " + strings.TrimSpace(parts[0]))
		if info.id == "" {
			d.Notes = append(d.Notes, "the card has no name: its number may change with the order of plugging")
		}
		for other, o := range cards {
			if other != c && o.vendor != "" && o.vendor == info.vendor && o.product == info.product {
				d.Notes = append(d.Notes, fmt.Sprintf("another card is like this one, and which is called %s depends on the order of plugging: plug in one after the other, always in the same order", name))
				break
			}
		}
		h.soundBench(&d, c, n)
		match, usb := d.matchUSB()
		if !usb {
			match = fmt.Sprintf(`KERNEL=="pcmC*D%dc"`, n)
		}
		// The control node is opened beside the samples.
		h.permit(&d, []string{d.Node, fmt.Sprintf("/dev/snd/controlC%d", c)}, true, "audio", `SUBSYSTEM=="sound", `+match, "")
		out = append(out, d)
	}
	return out
}

type card struct{ id, says, vendor, product string }

// cards reads the list of cards, by number.
func (h Host) cards() map[int]card {
	out := map[int]card{}
	for line := range strings.Lines(h.read("proc/asound/cards")) {
		// " 1 [Device         ]: USB-Audio - name", and a line that goes on about it
		head, says, ok := strings.Cut(line, "]:")
		number, name, ok2 := strings.Cut(head, "[")
		n, err := strconv.Atoi(strings.TrimSpace(number))
		if !ok || !ok2 || err != nil || n < 0 {
			continue
		}
		c := card{id: clean(name), says: clean(says)}
		if strings.ContainsAny(c.id, ", =:") {
			c.id = ""
		}
		if vendor, product, ok := strings.Cut(h.read(fmt.Sprintf("proc/asound/card%d/usbid", n)), ":"); ok {
			c.vendor, c.product = id(vendor), id(product)
		}
		out[n] = c
	}
	return out
}

// soundBench writes the lines for the microphone, with rate, format and channels if the card tells them.
func (h Host) soundBench(d *Device, card, dev int) {
	d.Bench = fmt.Sprintf("[microphone.device]\nkind = \"alsa\"\n[microphone.device.alsa]\ndevice = %s\n", quoted(d.Name))
	ways := capture(h.read(fmt.Sprintf("proc/asound/card%d/stream%d", card, dev)))
	if len(ways) == 0 {
		d.Notes = append(d.Notes, fmt.Sprintf("it does not tell which formats, rates and channels it has: arecord -D %s --dump-hw-params does", d.Name))
		return
	}
	w := ways[0]
	if i := slices.IndexFunc(ways, func(w way) bool { return w.has(usualRateHz) }); i >= 0 {
		w = ways[i]
	}
	rate := usualRateHz
	if !w.has(rate) {
		rate = w.most()
	}
	d.Bench += fmt.Sprintf("rate_hz = %d\nformat = \"%s\"\nchannels = %d\n", rate, w.format, w.channels)
	if w.channels > 1 {
		d.Notes = append(d.Notes, fmt.Sprintf("it has %d channels: channel = 1 to %d says which is the microphone, clamp_channel which is a clamp on the same card", w.channels, w.channels))
	}
}

// usualRateHz is native to nearly every card (common practice).
const usualRateHz = 48000

// formats are those that bench.toml takes.
var formats = []string{"S16_LE", "S24_3LE", "S24_LE", "S32_LE", "FLOAT_LE"}

// way is one way in which a USB card delivers.
type way struct {
	format   string
	channels int
	rates    []int // one after the other, or the least and the largest of a range
	ranged   bool
}

func (w way) has(hz int) bool {
	if w.ranged {
		return len(w.rates) == 2 && hz >= w.rates[0] && hz <= w.rates[1]
	}
	return slices.Contains(w.rates, hz)
}

func (w way) most() int { return slices.Max(w.rates) }

// capture reads the ways of capture out of what a USB card's driver tells; those that bench.toml cannot
// describe are left out.
func capture(stream string) []way {
	_, stream, ok := strings.Cut("\n"+stream, "\nCapture:")
	if !ok {
		return nil
	}
	var all []way
	for line := range strings.Lines(stream) {
		line = strings.TrimSpace(line)
		if strings.HasPrefix(line, "Altset ") && len(all) < 256 {
			all = append(all, way{})
		}
		key, value, _ := strings.Cut(line, ": ")
		if len(all) == 0 {
			continue
		}
		w := &all[len(all)-1]
		switch key {
		case "Format":
			w.format = value
		case "Channels":
			w.channels, _ = strconv.Atoi(value) // 0 is left out below
		case "Rates":
			w.rates, w.ranged = rates(value)
		}
	}
	return slices.DeleteFunc(all, func(w way) bool {
		return !slices.Contains(formats, w.format) || w.channels < 1 || w.channels > 32 || len(w.rates) == 0
	})
}

// rates reads "44100, 48000" or "8000 - 48000 (continuous)".
func rates(s string) (out []int, ranged bool) {
	separator := ","
	if s, ranged = strings.CutSuffix(s, "(continuous)"); ranged {
		separator = "-"
	}
	for part := range strings.SplitSeq(s, separator) {
		n, err := strconv.Atoi(strings.TrimSpace(part))
		if err != nil || n < 8000 || n > 192000 { // what bench.toml takes
			if ranged {
				return nil, true
			}
			continue
		}
		out = append(out, n)
	}
	return out, ranged
}
