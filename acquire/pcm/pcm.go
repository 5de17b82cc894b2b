// Package pcm takes the sound, and a clamp on the same card, from a sound card: it runs the recorder of
// alsa-utils, arecord, and reads its samples from a pipe. Samples are fractions of digital full scale, -1
// to 1.
//
// After an overrun arecord tells how long it lasted from when the card's buffer was full; what stood in
// the buffer is lost too. Both are counted, so that what follows keeps its place in time.
package pcm

import (
	"context"
	"fmt"
	"strings"

	"quern/acquire"
	"quern/config"
	"quern/rig"
)

// Card is a sound card as a source.
type Card struct {
	alsa    config.ALSA
	format  format
	taken   []taken
	program string // arecord
}

// taken is one channel that is taken from the card.
type taken struct {
	channel rig.Channel
	n       int // of the card's channels, from 0
}

var _ acquire.Device = (*Card)(nil)

// New returns the sound card that cfg describes, with the microphone, the clamp, or both. Errors tell
// which key is wrong.
func New(cfg config.MicrophoneDevice, withMicrophone, withClamp bool) (*Card, error) {
	a := cfg.ALSA
	f, err := formatOf(a.Format)
	if err != nil {
		return nil, err
	}
	c := &Card{alsa: a, format: f, program: "arecord"}
	bad := func(key string, found any, want, do string) (*Card, error) {
		return nil, &rig.FileError{File: "microphone.device.alsa." + key, Byte: -1, Found: fmt.Sprint(found), Want: want, Do: do}
	}
	switch {
	case a.Device == "" || strings.HasPrefix(a.Device, "-"):
		return bad("device", fmt.Sprintf("%q", a.Device), "the name of a capture device", "set it to one that quern devices lists")
	case a.RateHz < 1:
		return bad("rate_hz", a.RateHz, "samples a second", "48000 is native to nearly every card")
	case a.Channels < 1:
		return bad("channels", a.Channels, "1 or more", "count those of the card")
	case a.PeriodUs < 1 || a.BufferUs < 2*a.PeriodUs:
		return bad("buffer_us", a.BufferUs, fmt.Sprintf("at least two periods, %d", 2*a.PeriodUs), "make the buffer longer or period_us shorter")
	case withMicrophone && (a.Channel < 1 || a.Channel > a.Channels):
		return bad("channel", a.Channel, fmt.Sprintf("1 to %d, the number of channels", a.Channels), "open more channels, or name another")
	case withClamp && (a.ClampOnCard < 1 || a.ClampOnCard > a.Channels):
		return bad("clamp_channel", a.ClampOnCard, fmt.Sprintf("1 to %d, the number of channels", a.Channels), "name the clamp's channel, and open enough channels")
	case withMicrophone && withClamp && a.Channel == a.ClampOnCard:
		return bad("clamp_channel", a.ClampOnCard, "another channel than the microphone's", "name the clamp's own channel")
	case !withMicrophone && !withClamp:
		return bad("channel", "neither microphone nor clamp", "one of them to take", "set microphone.device.kind or clamp.device.kind")
	}
	if withMicrophone {
		c.taken = append(c.taken, taken{rig.Microphone, a.Channel - 1})
	}
	if withClamp {
		c.taken = append(c.taken, taken{rig.Clamp, a.ClampOnCard - 1})
	}
	return c, nil
}

// Name returns "sound card hw:...".
func (c *Card) Name() string { return "sound card " + c.alsa.Device }

// Streams returns the waveforms of the microphone and the clamp, in this order, as far as they are taken.
func (c *Card) Streams() []rig.Stream {
	var out []rig.Stream
	for _, t := range c.taken {
		out = append(out, rig.Stream{Channel: t.channel, Form: rig.Waveform, Unit: rig.FullScale, RateHz: float64(c.alsa.RateHz)})
	}
	return out
}

// Run records until ctx ends, when it returns nil, or until the card or the recorder fails.
func (c *Card) Run(ctx context.Context, to acquire.Sink) error {
	r, err := c.start()
	if err != nil {
		if ctx.Err() != nil {
			return nil
		}
		return err
	}
	err = r.follow(ctx, c.deliverer(to, &r.said))
	status := r.end()
	switch {
	case ctx.Err() != nil:
		return nil
	case err != nil:
		return err
	}
	return c.explain(r.said.lines, status)
}

func (c *Card) args() []string {
	a := c.alsa
	// With -v it tells what the card agreed to, and what its buffer held at an overrun.
	return []string{"-v", "-D", a.Device, "-f", a.Format, "-r", fmt.Sprint(a.RateHz), "-c", fmt.Sprint(a.Channels), "-t", "raw",
		fmt.Sprintf("--buffer-time=%d", a.BufferUs), fmt.Sprintf("--period-time=%d", a.PeriodUs), "-"}
}

// explain tells why arecord ended, and what to do, by what it said.
func (c *Card) explain(lines []string, status string) error {
	wrong := func(found, want, do string) error {
		return &rig.FileError{File: c.Name(), Byte: -1, Found: found, Want: want, Do: do}
	}
	for i, l := range lines {
		switch {
		case strings.Contains(l, "resource busy"):
			return wrong("a card that another program holds", "a free card", "end that program (fuser -v /dev/snd/* tells which), or a sound server that keeps the card open")
		case strings.Contains(l, "Permission denied"):
			return wrong("a card that may not be opened", "permission", "add the user to the group audio (sudo usermod -aG audio USER, then log in again)")
		case strings.Contains(l, "audio open error: No such file or directory"), strings.Contains(l, "audio open error: No such device"):
			return wrong("no such card", "one that is there", "plug it in, or set microphone.device.alsa.device to one that quern devices lists")
		case strings.Contains(l, "No such device"), strings.Contains(l, "state = DISCONNECTED"):
			return wrong("a card that has gone", "one that stays", "look at the plug and the cable: a hub without its own supply is often the cause")
		case strings.Contains(l, "read error"):
			return wrong("an error of the card: "+l, "samples", "pull its plug and put it back; try another port or cable")
		case strings.Contains(l, "Sample format non available"):
			return wrong("a card without format "+c.alsa.Format, "a format it has"+listed(lines[i+1:]), "set microphone.device.alsa.format to one of them, or device to plughw:... instead of hw:...")
		case strings.Contains(l, "Channels count non available"):
			return wrong(fmt.Sprintf("a card that does not open with %d channels", c.alsa.Channels), "a number of channels it has", "try channels = 2 (or 1), or set device to plughw:... instead of hw:...")
		case strings.Contains(l, "no configurations available"), strings.Contains(l, "Unable to install hw params"), strings.Contains(l, "unable to install sw params"):
			return wrong("a card that refuses rate, format, channels, buffer or period", "settings it takes", fmt.Sprintf("arecord -D %s --dump-hw-params tells them", c.alsa.Device))
		}
	}
	last := "without a word"
	if len(lines) > 0 {
		last = "and said " + fmt.Sprintf("%q", lines[len(lines)-1])
	}
	return wrong("arecord ended ("+status+") "+last, "samples", fmt.Sprintf("try arecord -D %s -f %s -r %d -c %d -d 3 /tmp/try.wav", c.alsa.Device, c.alsa.Format, c.alsa.RateHz, c.alsa.Channels))
}

// listed returns ": S16_LE, S32_LE" of the list "- S16_LE", "- S32_LE" at the start of lines.
func listed(lines []string) string {
	var names []string
	for _, l := range lines {
		if name, ok := strings.CutPrefix(l, "- "); ok {
			names = append(names, name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return " (" + strings.Join(names, ", ") + ")"
}
