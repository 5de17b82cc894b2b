package main

import (
	"quern/acquire"
	"quern/acquire/board"
	"quern/acquire/gauge"
	"quern/acquire/hid"
	"quern/acquire/iio"
	"quern/acquire/pcm"
	"quern/acquire/scale"
	"quern/config"
	"quern/rig/live"
)

var _ live.Keyed = (*scale.Scale)(nil)

// sources makes a source of every device that the bench describes; none is opened yet.
func sources(b config.Bench) ([]acquire.Source, error) {
	var out []acquire.Source
	var first error
	add := func(d acquire.Device, err error, silentS, latencyS float64) {
		if err == nil {
			out = append(out, acquire.Source{Device: d, SilentS: silentS, LatencyS: latencyS})
		} else if first == nil {
			first = err
		}
	}
	m, c, s := b.Microphone.Device, b.Clamp.Device, b.Scale.Device
	switch m.Kind {
	case "alsa":
		d, err := pcm.New(m, true, c.Kind == "sound-card")
		add(d, err, m.SilentS, m.LatencyS)
	case "meter":
		d, err := gauge.NewMeter(m)
		add(d, err, m.SilentS, m.LatencyS)
	}
	switch c.Kind {
	case "board":
		d, err := board.New(c, b.Clamp.FullScaleA)
		add(d, err, c.SilentS, c.LatencyS)
	case "iio":
		d, err := iio.New(c)
		add(d, err, c.SilentS, c.LatencyS)
	}
	switch s.Kind {
	case "serial":
		d, err := scale.New(s)
		add(d, err, s.SilentS, s.LatencyS)
	case "hid":
		d, err := hid.New(s)
		add(d, err, s.SilentS, s.LatencyS)
	}
	for _, x := range b.Extra {
		switch x.Kind {
		case "line":
			d, err := gauge.NewExtra(x)
			add(d, err, x.SilentS, x.LatencyS)
		case "iio":
			d, err := iio.NewExtra(x)
			add(d, err, x.SilentS, x.LatencyS)
		}
	}
	return out, first
}
