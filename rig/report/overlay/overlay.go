// Package overlay draws what lies over footage of a run: the on-camera page's ribbon and clock as pictures
// with alpha, one for each frame of the film. What a frame shows follows from the session and the frame's
// instant alone, never from the frames before it, so that a film may be begun anywhere and cut together.
//
// Times are in seconds since the session began; lengths on the picture are in pixels from its upper left
// corner; shades are straight (not multiplied by alpha) where they leave the package.
package overlay

import (
	"fmt"
	"image/color"

	"quern/rig"
)

// Scene is a session as the overlay shows it.
type Scene struct {
	Unit      string // what the unit may be called: its blind code, or its name once that is released
	Procedure string // its id
	Result    rig.Result
	Final     []Final // what each run of the result came to; FinalOf gives it
	Clock     string  // what the run clock counts: "motor-on" or "elapsed"
	LimitS    float64 // longest run, on that clock; 0: none
	EndS      float64 // length of the session
	Level     Track   // A-weighted level, dB re 20 µPa
	Current   Track   // RMS, A
}

// Look is how it is shown.
type Look struct {
	Width, Height int
	// Margin is kept free on every side, as a share of the width and of the height. Common practice: 0.05
	// for what must be seen; 0.10 for words on screens that cut edges off.
	Margin     float64
	Background color.NRGBA // the zero value: none, so that the footage shows through
}

// Bounds of a look. Below them words cannot be read; above them a frame takes more than 200 MB.
const (
	leastSide, mostSide = 240, 7680
	mostMargin          = 0.15
)

// Check returns an error that says what is wrong with a look.
func (l Look) Check() error {
	for _, side := range []int{l.Width, l.Height} {
		if side < leastSide || side > mostSide {
			return fmt.Errorf("found a size of %dx%d, expected %d to %d pixels each way, such as 1920x1080 or 1080x1920", l.Width, l.Height, leastSide, mostSide)
		}
	}
	if long, short := max(l.Width, l.Height), min(l.Width, l.Height); float64(long) > 2.5*float64(short) {
		return fmt.Errorf("found a size of %dx%d, expected at most 2.5 to 1: the words would not fit", l.Width, l.Height)
	}
	if !(l.Margin >= 0 && l.Margin <= mostMargin) {
		return fmt.Errorf("found a margin of %g %%, expected 0 to %g %%", 100*l.Margin, 100*mostMargin)
	}
	return nil
}

// Shades, those of the on-camera page over video: paper words with an edge of ink, legible on anything.
var (
	white      = color.NRGBA{R: 255, G: 255, B: 255, A: 255}
	soft       = color.NRGBA{R: 0xd8, G: 0xd8, B: 0xd8, A: 255}
	paper      = color.NRGBA{R: 0x10, G: 0x14, B: 0x18, A: 0xb0}
	starting   = color.NRGBA{R: 0x78, G: 0xb4, B: 0xdc, A: 255}
	loaded     = color.NRGBA{R: 0x9a, G: 0xcc, B: 0xf3, A: 255}
	overloaded = color.NRGBA{R: 0xf3, G: 0xab, B: 0x4e, A: 255}
	stalled    = color.NRGBA{R: 0xff, G: 0x94, B: 0x68, A: 255}
)

// absent stands where a figure could not be measured.
const absent = "–"
