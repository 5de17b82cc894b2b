package sound

import (
	"bytes"
	"flag"
	"fmt"
	"image/color"
	"math"
	"os"
	"testing"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

var update = flag.Bool("update", false, "write weighting_error.svg anew")

const plotFile = "weighting_error.svg"

// The picture of the weightings' error is what the code gives: go test ./detect/sound -run Plot -update.
func TestPlotOfWeightingError(t *testing.T) {
	got := weightingPlot(t)
	if *update {
		if err := os.WriteFile(plotFile, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(plotFile)
	if err != nil {
		t.Fatal(err)
	}
	// Last digits differ between processors; the curves' number of points and the text do not.
	if a, b := bytes.Count(got, []byte("\n")), bytes.Count(want, []byte("\n")); a != b {
		t.Errorf("%s has %d lines, the code gives %d: look at it after -update", plotFile, b, a)
	}
}

func weightingPlot(t *testing.T) []byte {
	rates := []float64{44100, 48000, 96000, 192000}
	colors := []color.Color{color.RGBA{0xd5, 0x5e, 0, 255}, color.RGBA{0, 0x72, 0xb2, 255}, color.RGBA{0, 0x9e, 0x73, 255}, color.RGBA{0x99, 0x55, 0x99, 255}}
	panel := func(title string, error func(w *weighting, hz float64) float64, rangeDB float64, every plot.ConstantTicks, limits bool) *plot.Plot {
		p := plot.New()
		p.Title.Text = title
		p.X.Label.Text = "frequency, Hz"
		p.Y.Label.Text = "digital minus analytic, dB"
		p.X.Scale = plot.LogScale{}
		p.X.Min, p.X.Max = 10, 96000
		p.X.Tick.Marker = plot.ConstantTicks{{Value: 10, Label: "10"}, {Value: 31.6, Label: "31.5"}, {Value: 100, Label: "100"}, {Value: 316, Label: "315"}, {Value: 1000, Label: "1k"}, {Value: 3162, Label: "3.15k"}, {Value: 10000, Label: "10k"}, {Value: 20000, Label: "20k"}, {Value: 48000, Label: "48k"}, {Value: 96000, Label: "96k"}}
		p.Y.Min, p.Y.Max = -rangeDB, rangeDB
		p.Y.Tick.Marker = every
		p.Add(plotter.NewGrid())
		line := func(name string, xy plotter.XYs, c color.Color, width vg.Length, dashes ...vg.Length) {
			l, err := plotter.NewLine(xy)
			if err != nil {
				t.Fatal(err)
			}
			l.Color, l.Width, l.Dashes = c, width, dashes
			p.Add(l)
			if name != "" {
				p.Legend.Add(name, l)
			}
		}
		for i, rate := range rates {
			w, err := designWeighting(rate)
			if err != nil {
				t.Fatal(err)
			}
			var xy plotter.XYs
			for k := range 301 {
				hz := 10 * math.Pow(rate/2/10, float64(k)/300)
				v := error(&w, hz)
				if math.Abs(v) > rangeDB { // cut where the curve leaves the picture
					xy = append(xy, plotter.XY{X: hz, Y: math.Copysign(rangeDB, v)})
					break
				}
				xy = append(xy, plotter.XY{X: hz, Y: v})
			}
			// Wide beneath narrow: the curves lie on each other at low frequencies.
			line(fmt.Sprintf("%g kHz", rate/1000), xy, colors[i], vg.Points(3.2-0.8*float64(i)))
		}
		if limits {
			grey := color.Gray{0x40}
			var plus, minus plotter.XYs
			for _, r := range table(t, "iec61672_weighting.csv") {
				hz := number(t, r, "exact_hz")
				plus = append(plus, plotter.XY{X: hz, Y: number(t, r, "class1_plus_db")})
				minus = append(minus, plotter.XY{X: hz, Y: max(number(t, r, "class1_minus_db"), -rangeDB)})
			}
			line("class 1 limits", plus, grey, vg.Points(1), vg.Points(4), vg.Points(3))
			line("", minus, grey, vg.Points(1), vg.Points(4), vg.Points(3))
		}
		p.Legend.Left, p.Legend.XOffs = true, 4*vg.Centimeter // clear of the limits
		return p
	}
	a := func(w *weighting, hz float64) float64 { return 10 * math.Log10(w.aResponse(hz)/aSquared(hz)) }
	c := func(w *weighting, hz float64) float64 { return 10 * math.Log10(w.cResponse(hz)/cSquared(hz)) }
	wide := plot.ConstantTicks{{Value: -4, Label: "-4"}, {Value: -2, Label: "-2"}, {Value: -1, Label: "-1"}, {Value: 0, Label: "0"}, {Value: 1, Label: "1"}, {Value: 2, Label: "2"}, {Value: 4, Label: "4"}}
	fine := plot.ConstantTicks{{Value: -0.1, Label: "-0.10"}, {Value: -0.05, Label: "-0.05"}, {Value: 0, Label: "0"}, {Value: 0.05, Label: "0.05"}, {Value: 0.1, Label: "0.10"}}
	plots := [][]*plot.Plot{
		{panel("A weighting, with class 1 of IEC 61672-1", a, 4, wide, true), panel("C weighting, with class 1 of IEC 61672-1", c, 4, wide, true)},
		{panel("A weighting, enlarged", a, 0.1, fine, false), panel("C weighting, enlarged", c, 0.1, fine, false)},
	}
	canvas := vgsvg.New(30*vg.Centimeter, 22*vg.Centimeter)
	tiles := draw.Tiles{Rows: 2, Cols: 2, PadX: 18, PadY: 18, PadTop: 10, PadBottom: 10, PadLeft: 10, PadRight: 10}
	for i, row := range plot.Align(plots, tiles, draw.New(canvas)) {
		for j, place := range row {
			plots[i][j].Draw(place)
		}
	}
	var b bytes.Buffer
	if _, err := canvas.WriteTo(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
