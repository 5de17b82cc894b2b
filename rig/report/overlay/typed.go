package overlay

import (
	"image/color"
	"strconv"
	"strings"
)

// ParseSize reads a width and a height in pixels, such as 1920x1080; false: it is none. Whether they will do is for
// [Look.Check] to say.
func ParseSize(text string) (width, height int, ok bool) {
	w, h, ok := strings.Cut(strings.ToLower(text), "x")
	if !ok {
		return 0, 0, false
	}
	width, errW := strconv.Atoi(w)
	height, errH := strconv.Atoi(h)
	return width, height, errW == nil && errH == nil
}

// ParseColour reads none, or red, green and blue such as #00b140; false: it is neither.
func ParseColour(text string) (c color.NRGBA, ok bool) {
	if text == "none" {
		return c, true
	}
	digits, ok := strings.CutPrefix(text, "#")
	v, err := strconv.ParseUint(digits, 16, 24)
	if !ok || len(digits) != 6 || err != nil {
		return c, false
	}
	return color.NRGBA{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), A: 255}, true
}
