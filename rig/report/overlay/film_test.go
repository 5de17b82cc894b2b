package overlay

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"strings"
	"testing"

	"quern/rig"
)

// The parts of the picture do not overlap, and lie within it.
func TestParts(t *testing.T) {
	for _, l := range looks {
		p := l.places()
		parts := map[string]image.Rectangle{"name": p.name, "word": p.word, "clock": p.clock, "reads": p.reads, "ribbon": p.ribbon}
		for a, ra := range parts {
			if ra.Empty() || !ra.In(image.Rect(-100, -100, l.Width+100, l.Height+100)) {
				t.Errorf("%dx%d: %s is %v", l.Width, l.Height, a, ra)
			}
			for b, rb := range parts {
				if a < b && ra.Overlaps(rb) {
					t.Errorf("%dx%d, margin %g: %s %v overlaps %s %v", l.Width, l.Height, l.Margin, a, ra, b, rb)
				}
			}
		}
	}
}

// boxOf returns the pixels that a text inks.
func boxOf(ts *typesetter, p piece) image.Rectangle {
	s := ts.set(p.lettering, p.text)
	x := p.x
	if !p.atLeft {
		x -= s.wide
	}
	r := s.mask.Rect.Add(image.Pt(int(math.Round(x)), int(math.Round(p.y))))
	if p.lines > 0 {
		r.Max.Y = max(r.Max.Y, int(math.Ceil(p.y+(0.07+0.1*float64(p.lines))*p.px)))
	}
	return r
}

// Every text stands within the margin and within its part, and none touches another, whatever is said.
func TestTextsAreInside(t *testing.T) {
	for _, l := range looks {
		for _, sc := range []Scene{eventful(), jogged(), bare()} {
			p, ts, s := l.places(), newTypesetter(), newStory(sc)
			moments := []moment{{word: "Overloaded", lines: 1, clock: "1440:00.0", of: "of 1440:00, passed"},
				{word: "Tripped", beside: "(presumed)", lines: 2, clock: "12:34", of: "of 20:00, passed", reads: []read{{"Level, dB(A)", "112"}, {"Current, A", "102.4"}}},
				{word: "Unknown", clock: absent, reads: []read{{"LAeq as measured, dB", "-10.3"}, {"Mean of run, A", "1234.5"}, {"LAFmax, dB", "130.9"}, {"Max, A", "1234.5"}}}}
			for _, at := range instants(sc) {
				moments = append(moments, s.at(at))
			}
			for _, m := range moments {
				check := func(part string, within image.Rectangle, ps []piece) {
					for i, a := range ps {
						box := boxOf(ts, a)
						if box.Empty() {
							continue
						}
						if slack := p.inner.Inset(-2); !box.In(slack) || !box.In(within) {
							t.Errorf("%dx%d, margin %g, %s %q: %v is outside of %v or %v", l.Width, l.Height, l.Margin, part, a.text, box, p.inner, within)
						}
						for _, b := range ps[:i] {
							if o := boxOf(ts, b); box.Overlaps(o) {
								t.Errorf("%dx%d, %s: %q %v overlaps %q %v", l.Width, l.Height, part, a.text, box, b.text, o)
							}
						}
					}
				}
				check("name", p.name, p.nameText(ts, sc.Unit, sc.Procedure))
				check("word", p.word, p.wordText(ts, &m))
				check("clock", p.clock, p.clockText(ts, &m))
				check("reads", p.reads, p.readsText(ts, m.reads))
				if m.band != nil {
					q := p.pen(new(canvas), s, m.band)
					var ps []piece
					for _, k := range p.ticks(ts, q) {
						if k.word != "" {
							ps = append(ps, piece{lettering: p.tickLetters(), text: k.word, x: float64(k.at.X), y: float64(k.at.Y), atLeft: true})
						}
					}
					if m.band.events > 0 && len(ps) == 0 {
						t.Errorf("%dx%d at %g s: no event has its word", l.Width, l.Height, m.band.nowS)
					}
					check("ribbon", p.ribbon, ps)
				}
				if t.Failed() {
					return
				}
			}
		}
	}
}

// alphaOutside counts pixels that are not transparent outside of some rectangles.
func alphaOutside(m *image.NRGBA, but ...image.Rectangle) int {
	n := 0
	for y := range m.Rect.Dy() {
	next:
		for x := range m.Rect.Dx() {
			if m.Pix[m.PixOffset(x, y)+3] == 0 {
				continue
			}
			for _, r := range but {
				if image.Pt(x, y).In(r) {
					continue next
				}
			}
			n++
		}
	}
	return n
}

// The footage shows through wherever nothing is said; before the session all of it does.
func TestTransparent(t *testing.T) {
	for _, l := range looks[:4] {
		f := film(t, eventful(), l)
		f.Draw(-1)
		if n := alphaOutside(f.frame); n > 0 {
			t.Errorf("%dx%d: %d pixels before the session", l.Width, l.Height, n)
		}
		for _, at := range []float64{0, 30, 100, 190} {
			f.Draw(at)
			p := f.places
			if n := alphaOutside(f.frame, p.name, p.word, p.clock, p.reads, p.ribbon); n > 0 {
				t.Errorf("%dx%d at %g s: %d pixels lie outside of all parts", l.Width, l.Height, at, n)
			}
			// Paper ink, but for the glow about it, keeps the margin.
			for y := range l.Height {
				for x := range l.Width {
					c := f.frame.NRGBAAt(x, y)
					if c == white && !image.Pt(x, y).In(p.inner.Inset(-2)) {
						t.Fatalf("%dx%d at %g s: ink at %d,%d is outside of the margin %v", l.Width, l.Height, at, x, y, p.inner)
					}
				}
			}
		}
		f.Draw(-1)
		if n := alphaOutside(f.frame); n > 0 {
			t.Errorf("%dx%d: %d pixels are left when the session is", l.Width, l.Height, n)
		}
	}
}

// The ribbon has come to where the clock is, on the way to the limit, and nothing is beyond its head.
func TestHeadFollowsClock(t *testing.T) {
	for _, l := range looks[:2] {
		sc := eventful()
		f := film(t, sc, l)
		p := f.places
		for _, at := range []float64{6, 12.04, 20.52, 50.08} {
			f.Draw(at)
			// On the way from the start, at 3 % of 1.07 lengths, to the limit, at 1.03: the clock's share.
			wide := float64(p.inner.Dx())
			want := float64(p.inner.Min.X) + wide*(0.03+(at-4.2)/sc.LimitS)/1.07
			y := int(p.bandTop) + 3 // above all patterns but stalls
			head := -1
			for x := p.inner.Min.X; x < p.inner.Max.X-int(0.06*wide); x++ {
				if f.frame.NRGBAAt(x, y) == white {
					head = x
				}
			}
			if !(math.Abs(float64(head)-want) <= p.scale+1) {
				t.Errorf("%dx%d at %g s: the head is at %d, want %.1f", l.Width, l.Height, at, head, want)
			}
			beyond := image.Rect(head+int(reach*p.scale), int(p.bandTop), p.inner.Max.X-int(0.06*wide), int(p.mid()-8*p.scale))
			for y := beyond.Min.Y; y < beyond.Max.Y; y++ {
				for x := beyond.Min.X; x < beyond.Max.X; x++ {
					if c := f.frame.NRGBAAt(x, y); c.A != 0 {
						t.Fatalf("%dx%d at %g s: %v at %d,%d, beyond the head at %d", l.Width, l.Height, at, c, x, y, head)
					}
				}
			}
		}
	}
}

func (p *places) mid() float64 { return p.bandTop + p.bandHeight/2 }

// Each state has a pattern of its own: of the height of the band so much is bright.
func TestPatterns(t *testing.T) {
	f := film(t, eventful(), looks[0])
	p := f.places
	const ruled = 2.0 / (7 / math.Sqrt2) // of a surface with lines 2 px wide, 7 px apart along x
	const crossed = 1 - (1-0.9*ruled)*(1-0.9*ruled)
	for _, c := range []struct {
		state        rig.State
		atS, seenS   float64
		want, within float64
	}{
		{rig.Loaded, 60, 20, loadedShare + (fullShare-loadedShare)*(0.6+math.Sin(20/3.0))/5.6, 0.05}, // of the 5.6 A that overload takes above no load
		{rig.Stalled, 60, 26, crossed, 0.1}, {rig.Overloaded, 60.9, 58, ruled * fullShare, 0.08},
		{rig.NoLoad, 130, 7, 2 * 1.4 / 99, 0.015}, {rig.Tripped, 130, 90, 0, 0.01}, {rig.Unknown, 185, 146, 0.01, 0.01}, {rig.Off, 60, 3, 1.2 / 99, 0.01},
		{rig.Loaded, 60, 40.8, 0.45, 0.1},    // a lull that is over
		{rig.NoLoad, 41.2, 40.6, 0.03, 0.02}, // the same while it lasts
	} {
		f.Draw(c.atS)
		q := p.pen(new(canvas), f.story, f.story.at(c.atS).band)
		x0, n, all := int(q.at(c.seenS)), 0, 0
		for x := x0 - 4; x < x0+4; x++ {
			for y := int(p.bandTop) + 1; y < int(p.bandTop+p.bandHeight)-1; y++ {
				all++
				if c := f.frame.NRGBAAt(x, y); c.R > 0x86 && c.A > 0x70 {
					n++
				}
			}
		}
		if got := float64(n) / float64(all); !(math.Abs(got-c.want) <= c.within) {
			t.Errorf("%s, at %g s, where it was %g s: %.3f of the height is bright, want about %.3f", c.state, c.atS, c.seenS, got, c.want)
		}
	}
}

// A frame is the same whatever was drawn before it, and where nothing new is said nothing changes.
func TestFramesStandAlone(t *testing.T) {
	for _, l := range []Look{{Width: 432, Height: 243, Margin: 0.1}, {Width: 243, Height: 432, Margin: 0.05, Background: color.NRGBA{G: 177, B: 64, A: 255}}} {
		for _, sc := range []Scene{eventful(), jogged()} {
			f := film(t, sc, l)
			last := append([]uint8(nil), f.Pix()...)
			for i, at := range instants(sc) {
				for _, step := range []float64{0, 0.04, 0.08} { // as film goes on
					changed := f.Draw(at + step)
					if changed == bytes.Equal(last, f.Pix()) && !changed {
						t.Fatalf("at %g s something changed, and Draw does not say so", at+step)
					}
					copy(last, f.Pix())
				}
				if i%9 != 0 && at < sc.EndS-0.1 {
					continue
				}
				alone := film(t, sc, l)
				alone.Draw(at + 0.08)
				for k := range alone.Pix() {
					if alone.Pix()[k] != f.Pix()[k] {
						x, y := k/4%l.Width, k/4/l.Width
						t.Fatalf("%dx%d at %g s: the pixel at %d,%d is %v as film goes on and %v drawn alone", l.Width, l.Height, at+0.08, x, y, f.frame.NRGBAAt(x, y), alone.frame.NRGBAAt(x, y))
					}
				}
			}
		}
	}
}

// With a background every pixel is opaque, and what nothing covers has its shade.
func TestBackground(t *testing.T) {
	bg := color.NRGBA{G: 177, B: 64, A: 255}
	l := looks[0]
	l.Background = bg
	f := film(t, eventful(), l)
	f.Draw(50)
	for i := 3; i < len(f.Pix()); i += 4 {
		if f.Pix()[i] != 255 {
			t.Fatalf("pixel %d has alpha %d", i/4, f.Pix()[i])
		}
	}
	if c := f.frame.NRGBAAt(l.Width/2, l.Height/4); c != bg {
		t.Errorf("the background is %v, want %v", c, bg)
	}
}

func TestLookCheck(t *testing.T) {
	for _, c := range []struct {
		look Look
		want string
	}{
		{Look{Width: 100, Height: 1080}, "240 to 7680 pixels"}, {Look{Width: 1920, Height: 9000}, "240 to 7680 pixels"}, {Look{Width: 1920, Height: 300}, "2.5 to 1"},
		{Look{Width: 1920, Height: 1080, Margin: 0.2}, "0 to 15 %"}, {Look{Width: 1920, Height: 1080, Margin: math.NaN()}, "0 to 15 %"},
	} {
		if _, err := NewFilm(bare(), c.look); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.look, err, c.want)
		}
	}
}

// Figures that are none, times that fall and runs without an end draw something and do not stop the program.
func TestOddScenes(t *testing.T) {
	nan := rig.Fig(math.NaN())
	for i, sc := range []Scene{
		{}, {EndS: math.NaN()},
		{LimitS: math.Inf(1), Result: rig.Result{Runs: []rig.Run{{StartS: rig.Fig(1), EndS: rig.Fig(2)}}}, EndS: 3},
		{LimitS: math.NaN(), Result: rig.Result{Runs: []rig.Run{{StartS: nan, EndS: nan}, {StartS: rig.Fig(5), EndS: rig.Fig(1)}}}, EndS: 3},
		{LimitS: 1e-9, Result: rig.Result{Runs: []rig.Run{{StartS: rig.Fig(0), EndS: rig.Fig(0), RunTimeS: nan,
			Events: []rig.Event{{Kind: "\x00odd\n", AtS: rig.Fig(0)}, event(rig.Trip, -5), {AtS: nan}}, States: []rig.Span{span(rig.Loaded, 3, 1), {State: "\u00e9"}, {State: "", FromS: rig.Fig(0), ToS: rig.Fig(1)}}}}}, EndS: 1, Unit: "\x00\x1b[31m", Procedure: strings.Repeat("x", 5000)},
	} {
		f := film(t, sc, looks[2])
		for _, at := range []float64{-1, 0, 0.5, 1, 2, 3, 1e6, 1e300, math.NaN(), math.Inf(1)} {
			f.Draw(at)
			if n := len(f.Pix()); n != 4*640*360 {
				t.Errorf("scene %d: %d bytes", i, n)
			}
		}
	}
}
