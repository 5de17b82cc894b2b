package report

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"strings"
	"testing"

	"quern/rig"
)

// plots are one of each kind, and each with nothing or with nonsense in it.
func plots() map[string]Plot {
	nan, inf := math.NaN(), math.Inf(1)
	var bands, quiet []float64
	runs := make([][]float64, 3)
	for i := range 31 {
		bands = append(bands, math.Round(20*math.Pow(10, float64(i)/10)))
		quiet = append(quiet, 30+float64(i%4))
		for r := range runs {
			runs[r] = append(runs[r], 60+10*math.Sin(float64(i)/4)+float64(r))
		}
	}
	g := rig.Fig
	none := rig.Absent("not-weighed")
	long := "An invented unit whose name goes on & on <far> beyond what any column of a plot could hold"
	shown := &eventful().Runs[0]
	return map[string]Plot{
		"spectrum":             Spectrum{Title: "unit-a, mixed", BandsHz: bands, RunsDB: runs, Background: quiet},
		"spectrum, one run":    Spectrum{Title: long, BandsHz: bands[:5], RunsDB: runs[:1], Why: "less than 1 s of quiet before the first start, and that is told at some length here"},
		"spectrum, nothing":    Spectrum{},
		"spectrum, nonsense":   Spectrum{Title: "\x00", BandsHz: []float64{nan, 0, inf}, RunsDB: [][]float64{{nan, 1e300, -inf}, {}}, Background: []float64{inf}},
		"balance":              Balance{Title: "unit-a: where it went", Runs: []BalanceRun{{"run 1, 2026-03-02", g(2500), g(90), g(30), g(400), none}, {"run 2", g(2500), g(0), g(30), g(400), g(2600)}}},
		"balance, nothing":     Balance{Title: long, Runs: []BalanceRun{{long, none, none, none, none, none}}},
		"balance, nonsense":    Balance{Runs: []BalanceRun{{"", g(-1), g(nan), g(inf), g(-5), g(1e300)}, {"", g(1e-300), g(1e300), g(1), g(1), g(1)}}},
		"repeats":              Spread{Title: "repeats", Rows: []SpreadRow{{"run time", "run_time_s", []float64{81, 84.2, 79}, []int{1}, g(81.4), g(2.2), g(240), true}, {"left share", "left_share", []float64{0.04, 0.05, 0.047}, nil, g(0.046), none, g(0.05), true}, {"trips", "trips", []float64{0, 2, 0}, nil, g(0.67), g(0.4), g(1), true}, {"LAeq", "laeq_db", []float64{70.1}, nil, g(70.1), none, none, true}}},
		"repeats, nothing":     Spread{Title: long, Rows: []SpreadRow{{Name: long, Measure: "run_time_s", Mean: none, Half: none, Limit: none}}},
		"repeats, nonsense":    Spread{Rows: []SpreadRow{{"", "", []float64{nan, inf, 1e300, -1e300}, []int{-1, 99}, g(inf), g(nan), g(1e300), false}, {"x", "trips", []float64{1e18}, nil, g(1e18), g(1e18), g(-1), false}}},
		"ribbons":              Ribbons{Title: "mixed", LimitS: 240, Rows: []RibbonRow{{"unit-a", []*rig.Run{shown, nil, shown}, []string{"passed, 1:21.0", "void", ""}}, {long, []*rig.Run{shown}, []string{long}}}},
		"ribbons, nothing":     Ribbons{},
		"ribbons, nonsense":    Ribbons{LimitS: nan, Rows: []RibbonRow{{"", []*rig.Run{{}, {StartS: g(5), EndS: g(3)}, {StartS: g(0), EndS: g(1e300), States: []rig.Span{span(rig.Loaded, -1e300, 1e300)}}}, nil}}},
		"places":               Places{Title: "places", Lines: []PlacesLine{{1, "unit-a", g(6.7), g(0.1), 1, 2, 1, 3}, {2, long, g(6.4), g(0.4), 1, 3, 1, 3}, {3, "unit-c", g(1), none, 0, 0, 0, 0}}},
		"places, one":          Places{Title: long, Lines: []PlacesLine{{1, "unit-a", none, none, 0, 0, 0, 0}}},
		"places, none":         Places{},
		"places, many":         many(60),
		"picture, on paper":    Picture{Title: long, Result: eventful(), Run: 0, WidthPt: 760, LevelIs: "level A, F, mean of every 0.1 s", LimitS: 240, Level: Series{AtS: []float64{1, 2}, V: []float64{70, 71}}},
		"picture, half a page": Picture{Result: eventful(), Run: -1, WidthPt: 480},
	}
}

// many is a ranking of n units.
func many(n int) Places {
	p := Places{Title: "many"}
	for i := range n {
		p.Lines = append(p.Lines, PlacesLine{i + 1, fmt.Sprintf("unit-%d", i), rig.Fig(9 - 0.1*float64(i)), rig.Fig(0.2), max(1, i-3), min(n, i+5), max(1, i-1), min(n, i+2)})
	}
	return p
}

func TestPlotsAreWhole(t *testing.T) {
	for name, plot := range plots() {
		t.Run(name, func(t *testing.T) {
			var svg, inline, raster bytes.Buffer
			for form, w := range map[string]*bytes.Buffer{SVG: &svg, Inline: &inline, PNG: &raster} {
				if err := Render(w, form, plot); err != nil {
					t.Fatalf("%s: %v", form, err)
				}
			}
			texts(t, svg.Bytes()) // it is XML
			texts(t, inline.Bytes())
			if _, err := png.Decode(bytes.NewReader(raster.Bytes())); err != nil {
				t.Error(err)
			}
			if strings.Contains(inline.String(), "#0") || strings.Contains(inline.String(), "http") {
				t.Errorf("in a page the style sheet gives colours, and nothing is loaded: %.200s", inline.String())
			}
			if strings.Contains(svg.String(), "class=") {
				t.Error("a file by itself has no style sheet")
			}
			if strings.Contains(name, "nonsense") {
				return // that it is drawn is all that can be asked
			}
			p := newPen()
			draw := plot.plan(p)
			p.c = &svgCanvas{high: p.height}
			draw()
			for i, b := range p.texts {
				if b.x0 < 0 || b.y0 < 0 || b.x1 > p.wide || b.y1 > p.height {
					t.Errorf("%q leaves the page: %+v of %g by %g", b.w, b, p.wide, p.height)
				}
				for _, c := range p.texts[i+1:] {
					if b.overlaps(c) {
						t.Errorf("%q and %q overlap: %+v, %+v", b.w, c.w, b, c)
					}
				}
			}
		})
	}
}

func TestRenderRefuses(t *testing.T) {
	var b bytes.Buffer
	if err := Render(&b, "pdf", Spectrum{}); err == nil || !strings.Contains(err.Error(), `found format "pdf"`) || b.Len() > 0 {
		t.Errorf("error %v and %d bytes", err, b.Len())
	}
}

// IEC 60263 (from memory): in plots of levels over frequency a decade is as long as 50 dB. Ten third-octave
// bands are a decade (IEC 61260-1, base ten: from memory).
func TestProportionsOfSpectra(t *testing.T) {
	p := newPen()
	s := plots()["spectrum"].(Spectrum)
	draw := s.plan(p)
	p.c = &svgCanvas{high: p.height}
	draw()
	at := map[string]box{}
	for _, b := range p.texts {
		at[b.w] = b
	}
	x := func(w string) float64 { return (at[w].x0 + at[w].x1) / 2 }
	decade := (x("20k") - x("20")) / 3
	tenDB := at["60"].y0 - at["50"].y0
	if decade <= 0 || !(math.Abs(decade-5*tenDB) <= 0.01) {
		t.Errorf("a decade is %.2f pt, 50 dB are %.2f pt", decade, 5*tenDB)
	}
}

// Lightness alone tells the shades apart, for print in grey: by the luma of ITU-R BT.709 (from memory).
func TestShadesInGrey(t *testing.T) {
	luma := func(r, g, b uint8) float64 { return 0.2126*float64(r) + 0.7152*float64(g) + 0.0722*float64(b) }
	filled := []float64{luma(blue.R, blue.G, blue.B), luma(sky.R, sky.G, sky.B), luma(paper.R, paper.G, paper.B), luma(faint.R, faint.G, faint.B)}
	for i, a := range filled {
		for _, b := range filled[i+1:] {
			if math.Abs(a-b) < 25 {
				t.Errorf("fills of luma %.0f and %.0f look alike in grey", a, b)
			}
		}
	}
}

func BenchmarkRender(b *testing.B) {
	p := scenes()["twenty-minutes"]
	p.WidthPt = 760
	for _, form := range []string{SVG, PNG, Inline} {
		b.Run(form, func(b *testing.B) {
			for b.Loop() {
				if err := Render(&bytes.Buffer{}, form, p); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
