package report

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quern/rig"
)

func draw(t *testing.T, format string, p Picture) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Draw(&b, format, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// With QUERN_PICTURES set to a folder the pictures are left there to be looked at.
func TestDrawWholeFiles(t *testing.T) {
	dir := os.Getenv("QUERN_PICTURES")
	for name, p := range scenes() {
		t.Run(name, func(t *testing.T) {
			img, err := png.Decode(bytes.NewReader(draw(t, "png", p)))
			if err != nil {
				t.Fatal(err)
			}
			if got := img.Bounds().Size(); got.X != 1600 || got.Y > 900 || got.Y < 200 {
				t.Errorf("size %v, want 1600 x 900 or a little less", got)
			}
			svg := draw(t, "svg", p)
			if got := texts(t, svg); len(got) < 10 {
				t.Errorf("%d texts in the picture, want the legend at least: %q", len(got), got)
			}
			if !bytes.Equal(svg, draw(t, "svg", p)) {
				t.Error("drawn twice, the picture differs")
			}
			if dir != "" {
				for ext, b := range map[string][]byte{".svg": svg, ".png": draw(t, "png", p)} {
					if err := os.WriteFile(filepath.Join(dir, name+ext), b, 0o644); err != nil {
						t.Error(err)
					}
				}
			}
		})
	}
}

// texts parses an SVG and returns its texts; what is not well-formed fails.
func texts(t *testing.T, svg []byte) []string {
	t.Helper()
	var out []string
	in := false
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatalf("not XML: %v", err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			in = tok.Name.Local == "text"
		case xml.CharData:
			if in {
				out = append(out, string(tok))
			}
		case xml.EndElement:
			in = false
		}
	}
}

// boxes lays a picture out and returns where its texts stand.
func boxes(p Picture) (texts []box, heightPt float64) {
	pen := newPen()
	drawing := p.plan(pen)
	pen.c = &svgCanvas{high: pen.height}
	drawing()
	return pen.texts, pen.height
}

func TestTextsNeitherOverlapNorLeaveThePage(t *testing.T) {
	all := scenes()
	for name, p := range scenes() {
		p.WidthPt = 720 // as on a sheet of paper
		all[name+", narrow"] = p
	}
	for name, p := range all {
		t.Run(name, func(t *testing.T) {
			bs, height := boxes(p)
			for i, b := range bs {
				if b.x0 < 0 || b.y0 < 0 || b.x1 > cmp.Or(p.WidthPt, pageWidth) || b.y1 > height {
					t.Errorf("%q leaves the page: %+v", b.w, b)
				}
				for _, c := range bs[i+1:] {
					if b.overlaps(c) {
						t.Errorf("%q and %q overlap: %+v, %+v", b.w, c.w, b, c)
					}
				}
			}
		})
	}
}

func TestPictureTellsInWords(t *testing.T) {
	all := scenes()
	for _, c := range []struct {
		scene string
		want  []string
	}{
		{"eventful", []string{"invented-eventful", "motor start", "load start", "stall start", "stall end", "trip (presumed)", "chamber clear?", "motor stop",
			"A-weighted level, dB re 20 µPa", "current, A", "mass, g", "loaded", "tripped", "unknown", "run 1"}},
		{"one-run", []string{"no-load 3.90 A", "limit 2:00.0", "Not drawn: mass (no reading of a scale in this stretch of time)"}},
		{"no-sound", []string{"Not drawn: sound level (no sound was recorded: sound figures are absent, and the clear chamber is told from the current alone)"}},
		{"no-current", []string{"Not drawn: current (no current was recorded: motor figures are absent)", "unknown"}},
		{"ten-quiet-hours", []string{"no run was found", "time, h:mm", "10:00"}},
		{"nothing", []string{"no run was found"}},
		{"session", []string{"run 1", "run 2", "limit 1:00.0"}},
	} {
		got := map[string]bool{}
		bs, _ := boxes(all[c.scene])
		for _, b := range bs {
			got[b.w] = true
		}
		for _, w := range c.want {
			if !got[w] {
				t.Errorf("%s: %q is not written; written: %v", c.scene, w, got)
			}
		}
	}
}

func TestDrawRefuses(t *testing.T) {
	for _, c := range []struct {
		format string
		run    int
		want   string
	}{
		{"pdf", -1, `found format "pdf", expected svg or png`},
		{"svg", 1, "found run 1"},
		{"svg", -2, "found run -2"},
	} {
		var b bytes.Buffer
		err := Draw(&b, c.format, Picture{Result: eventful(), Run: c.run})
		if err == nil || !strings.Contains(err.Error(), c.want) || b.Len() > 0 {
			t.Errorf("%s, run %d: error %v and %d bytes, want an error with %q and nothing written", c.format, c.run, err, b.Len(), c.want)
		}
	}
}

// Whatever comes, a picture is drawn: nothing panics, hangs, or writes what is not XML.
func TestDrawBadValues(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	bad := []float64{nan, inf, -inf, 0, -1, 1e300, -1e300, 1e-300, 1e18, math.MaxFloat64, -math.MaxFloat64, 5, 5, 4}
	odd := rig.Run{StartS: rig.Fig(5), EndS: rig.Fig(3), RunTimeS: rig.Figure{V: nan, OK: true}}
	huge := rig.Run{StartS: rig.Fig(0), EndS: rig.Fig(1e300), States: []rig.Span{span(rig.Loaded, -1e300, 1e300), span("new \x00 state", 1, 0)},
		Events: []rig.Event{ev("new_\x1b[31mkind", 1, -1, 7, "\x00"), {Kind: rig.Trip}}}
	for _, run := range []int{-1, 0, 1} {
		for shift := range bad {
			at := append(append([]float64{}, bad[shift:]...), bad[:shift]...)
			s, short := Series{AtS: at, V: bad}, Series{AtS: at, V: bad[:3]}
			p := Picture{Title: "\x00\x1b \xff\ufffe", Run: run, LimitS: bad[shift], Level: s, LevelMax: short, Current: s, Mass: s,
				Result: rig.Result{Session: strings.Repeat("漢", 500), Runs: []rig.Run{odd, huge}, Warnings: []rig.Warning{{Code: "\x01", Text: "\x02"}}}}
			texts(t, draw(t, "svg", p))
		}
	}
	draw(t, "png", Picture{Run: 1, Result: rig.Result{Runs: []rig.Run{odd, huge}}, Current: Series{AtS: bad, V: bad}})
}

func BenchmarkDraw(b *testing.B) {
	p := scenes()["twenty-minutes"]
	for _, f := range []string{"svg", "png"} {
		b.Run(f, func(b *testing.B) {
			for b.Loop() {
				if err := Draw(io.Discard, f, p); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
