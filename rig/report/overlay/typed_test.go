package overlay

import (
	"fmt"
	"image/color"
	"strings"
	"testing"
)

func TestParseSize(t *testing.T) {
	for text, want := range map[string][2]int{"1920x1080": {1920, 1080}, "1080X1920": {1080, 1920}, "-1x0": {-1, 0}} {
		if w, h, ok := ParseSize(text); !ok || w != want[0] || h != want[1] {
			t.Errorf("%q: %d, %d, %v, want %v", text, w, h, ok, want)
		}
	}
	for _, text := range []string{"", "x", "1920", "1920x", "x1080", "1920 x 1080", "1920x1080x1", "1e3x5", "99999999999999999999x1"} {
		if w, h, ok := ParseSize(text); ok {
			t.Errorf("%q was read as %d by %d", text, w, h)
		}
	}
}

func TestParseColour(t *testing.T) {
	for text, want := range map[string]color.NRGBA{"none": {}, "#00b140": {G: 0xb1, B: 0x40, A: 255}, "#FFFFFF": {R: 255, G: 255, B: 255, A: 255}, "#000000": {A: 255}} {
		if c, ok := ParseColour(text); !ok || c != want {
			t.Errorf("%q: %v, %v, want %v", text, c, ok, want)
		}
	}
	for _, text := range []string{"", "#", "00b140", "#00b14", "#00b1400", "#00b14g", "#+0b140", "#0x1234", "green", "None"} {
		if c, ok := ParseColour(text); ok {
			t.Errorf("%q was read as %v", text, c)
		}
	}
}

// FuzzTyped: what is read prints back the same.
func FuzzTyped(f *testing.F) {
	for _, text := range []string{"1920x1080", "#00b140", "none", "12x", "#-00001"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if w, h, ok := ParseSize(text); ok {
			if a, b, again := ParseSize(fmt.Sprintf("%dx%d", w, h)); !again || a != w || b != h {
				t.Errorf("%q: %d by %d, then %d by %d", text, w, h, a, b)
			}
		}
		if c, ok := ParseColour(text); ok && text != "none" && !strings.EqualFold(text, fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)) {
			t.Errorf("%q: %v", text, c)
		}
	})
}
