package config

import (
	"fmt"
	"strings"
)

// devices says what the daemon will open, and what is missing for it.
func (p *printer) devices(b *Bench) {
	p.line("What the daemon opens")
	m, c, s := &b.Microphone.Device, &b.Clamp.Device, &b.Scale.Device
	switch m.Kind {
	case "none":
		p.text("Microphone: none.")
	case "alsa":
		p.text("Microphone: channel %d of %d of the sound card %s at %d Hz, %s, held to be %g s old when it arrives.", m.ALSA.Channel, m.ALSA.Channels, m.ALSA.Device, m.ALSA.RateHz, m.ALSA.Format, m.LatencyS)
	case "meter":
		p.text("Microphone: a sound level meter on %s; there will be no C-weighted levels, peaks or third octaves.", port(m.Port))
	}
	switch c.Kind {
	case "none":
		p.text("Clamp: none: runs will come from the sound, coarser.")
	case "sound-card":
		p.text("Clamp: channel %d of the microphone's sound card.", m.ALSA.ClampOnCard)
		if m.ALSA.ClampOnCard == 0 {
			p.text("Note: microphone.device.alsa.clamp_channel does not say which channel that is.")
		}
	case "board":
		p.text("Clamp: a converter board on %s, %s frames, %s at %g a second.", port(c.Port), c.Board.Frames, c.Form, c.RateHz)
	case "iio":
		p.text("Clamp: channel %s of the kernel's converter %s at %g a second.", c.IIO.Channel, orOnly(c.IIO.Device), c.RateHz)
	}
	switch s.Kind {
	case "none":
		p.text("Scale: none.")
	case "serial":
		how := "which sends by itself"
		if s.Mode == "request" {
			how = fmt.Sprintf("asked every %g s", s.IntervalS)
		}
		p.text("Scale: an indicator on %s, %s; frames of the shape %s.", port(s.Port), how, s.Frame.Shape)
	case "hid":
		p.text("Scale: a USB scale at %s.", orFirst(s.Hidraw))
	}
	for i := range b.Extra {
		x := &b.Extra[i]
		if x.Kind == "iio" {
			p.text("%s, %s: channel %s of the kernel's converter %s, every %g s.", x.ID, x.Unit, x.IIO.Channel, orOnly(x.IIO.Device), x.IntervalS)
		} else {
			p.text("%s, %s: lines on %s.", x.ID, x.Unit, port(x.Port))
		}
	}
	if b.Pages.Viewers {
		p.text("Pages: on the network whoever has not paired may watch, but not act.")
	} else {
		p.text("Pages: on the network a device has to pair before it sees anything.")
	}
	r := &b.Record
	p.text("A session begins %g s before a motor's start and is synced every %g s. Waveforms are no longer kept when less than %d MB are left; that the disk fills is said from %d MB.", r.PreRollS, r.SyncS, r.DiskDropMB, r.DiskWarnMB)
}

func port(p Port) string {
	if p.Device == "" {
		return "a port that is not named yet (port.device)"
	}
	return fmt.Sprintf("%s at %d baud, %d%s%d", p.Device, p.Baud, p.DataBits, strings.ToUpper(p.Parity[:1]), p.StopBits)
}

func orOnly(device string) string {
	if device == "" {
		return "(the only one)"
	}
	return device
}

func orFirst(node string) string {
	if node == "" {
		return "the first hidraw node that is one"
	}
	return node
}
