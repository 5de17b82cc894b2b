package overlay

import (
	"fmt"
	"image/color"
	"os"
	"regexp"
	"strconv"
	"testing"
)

// The overlay and the on-camera page are one picture: shades, proportions and rules are the page's.
func TestLikeThePage(t *testing.T) {
	read := func(name string) string {
		b, err := os.ReadFile("../../live/web/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	css, ribbon, show, run, air := read("css/air.css"), read("src/ribbon.ts"), read("src/show.ts"), read("src/run.ts"), read("src/air.ts")
	shade := func(c color.NRGBA) string {
		s := fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
		if c.A != 255 {
			s += fmt.Sprintf("%02x", c.A)
		}
		return s
	}
	overVideo := regexp.MustCompile(`\.air\.none \.stage \{([^}]*)\}`).FindString(css)
	for name, c := range map[string]color.NRGBA{"soft": soft, "paper": paper, "starting": starting, "loaded": loaded, "overloaded": overloaded, "stalled": stalled} {
		if got := regexp.MustCompile("--ribbon-" + name + `: (#[0-9a-f]+)`).FindStringSubmatch(overVideo); got == nil || got[1] != shade(c) {
			t.Errorf("the shade of %s is %s here and %v on the page", name, shade(c), got)
		}
	}
	for _, c := range []struct {
		what, text, expr string
		want             float64
	}{
		{"share of no load", ribbon, `noLoadShare = ([0-9.]+)`, noLoadShare},
		{"share of least load", ribbon, `loadedShare = ([0-9.]+)`, loadedShare},
		{"share of greatest load", ribbon, `fullShare = ([0-9.]+)`, fullShare},
		{"share of what is not known", ribbon, `unknownShare = ([0-9.]+)`, unknownShare},
		{"a lull, s", ribbon, `lullS = ([0-9.]+)`, lullS},
		{"room before the start", run, `leadS = ([0-9.]+)`, leadShare},
		{"room behind the limit", run, `roomS = ([0-9.]+)`, roomShare},
		{"what a digit may tremble", show, `Math\.abs\(v - this\.shown\) < ([0-9.]+) \* step`, tremble},
		{"pace of the level, ms", air, `new Steady\(byId\("level"\), 0, ([0-9]+)\)`, 1000 * tenthS * paceTenths},
		{"pace of the current, ms", air, `new Steady\(byId\("current"\), 1, ([0-9]+)\)`, 1000 * tenthS * paceTenths},
		{"height of the ribbon, em", air, `height: Math\.round\(em \* ([0-9.]+)\)`, ribbonEm / 1.5},
		{"words below it, em", air, `font: Math\.round\(em \* ([0-9.]+)\)`, wordEm / 1.5},
		{"size of the state, em", css, `\.word \{ grid-area: word; font-size: ([0-9.]+)em`, largeEm},
		{"size of the clock, em", css, `\.runclock \{ grid-area: clock; font-size: ([0-9.]+)em`, largeEm},
		{"size beside the clock", css, `\.runclock \.of \{ font-size: ([0-9.]+)em`, smallShare},
		{"size of labels, em", css, `\.reads dt \{ font-size: ([0-9.]+)em`, labelEm},
	} {
		got := regexp.MustCompile(c.expr).FindStringSubmatch(c.text)
		if got == nil {
			t.Errorf("%s: the page does not say it by %s any more", c.what, c.expr)
			continue
		}
		if v, err := strconv.ParseFloat(got[1], 64); err != nil || v < c.want-1e-9 || v > c.want+1e-9 {
			t.Errorf("%s: %g here, %s on the page", c.what, c.want, got[1])
		}
	}
}
