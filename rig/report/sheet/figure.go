package sheet

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"html/template"
	"math"
	"path/filepath"
	"strings"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// figure is a plot of a page. It is drawn when the page is finished.
type figure struct {
	Stem    string // of its files
	Label   string // for whoever does not see it
	Caption string
	HTML    template.HTML
	plot    report.Plot
	files   map[string][]byte // by ending
}

// plotsName is the folder of the plots beside the pages.
const plotsName = "plots"

// figure takes a plot up. Two of one name get numbers.
func (b *book) figure(stem, label, caption string, plot report.Plot) *figure {
	stem = fileStem(b.veil.Text(stem))
	if b.names[stem]++; b.names[stem] > 1 {
		stem = fmt.Sprintf("%s-%d", stem, b.names[stem])
	}
	f := &figure{Stem: stem, Label: label, Caption: caption, plot: plot}
	b.plots = append(b.plots, f)
	return f
}

// draw draws all plots in all forms.
func (b *book) draw(ctx context.Context) error {
	return each(len(b.plots), func(i int) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		f := b.plots[i]
		f.files = map[string][]byte{}
		for _, form := range []string{report.SVG, report.PNG, report.Inline} {
			var out bytes.Buffer
			if err := report.Render(&out, form, f.plot); err != nil {
				return fmt.Errorf("report: plot %s: %w", f.Stem, err)
			}
			if form == report.Inline {
				f.HTML = template.HTML(out.String())
			} else {
				f.files[f.Stem+"."+form] = out.Bytes()
			}
		}
		return nil
	})
}

// fileStem makes a name for files: small letters, digits and hyphens.
func fileStem(s string) string {
	out := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '-':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return '-'
	}, s)
	for strings.Contains(out, "--") {
		out = strings.ReplaceAll(out, "--", "-")
	}
	if out = strings.Trim(out, "-"); len(out) > 100 {
		out = strings.TrimRight(out[:100], "-")
	}
	return cmp.Or(out, "page")
}

// sheetWidePt is the width of a plot that is to be read on paper.
const sheetWidePt = 760

// picture is the ribbon picture of a run; nil: there is nothing to draw.
func (b *book) picture(x *exhibit, n int, title, stem string) *figure {
	if n < 1 || n > len(x.result.Runs) || x.whyNot != "" {
		return nil
	}
	k := x.shown[n-1]
	p := report.Picture{Title: title, Result: x.result, Run: n - 1, Level: k.level, LevelMax: k.top, Current: k.current, Mass: k.mass, Extra: k.extra,
		WidthPt: sheetWidePt, LevelIs: fmt.Sprintf("level A, F, mean of every %.2g s", k.stepS)}
	p.Result.Session, p.Result.Unit, p.Result.Procedure = "", "", "" // the title says what it is of
	if r := x.run(n); r != nil {
		p.LimitS = r.Procedure.TimeLimitS
	}
	return b.figure(stem, "Level, current, mass and ribbon of "+title+" over time; its events are listed below",
		"Level with time weighting F, RMS of the current with its least and greatest values, and the ribbon: what the motor did.", p)
}

// run returns run n of the campaign; nil: it has none of that number.
func (x *exhibit) run(n int) *score.Run {
	for _, r := range x.runs {
		if r.N == n {
			return r
		}
	}
	return nil
}

// spectrum is the third-octave spectrum of runs with their background; nil: no sound was measured.
func (b *book) spectrum(of []*exhibit, runs []*score.Run, title, stem string) *figure {
	p := report.Spectrum{Title: title, Why: "no quiet before the first start"}
	var rooms []curves
	var all []map[float64]float64
	for i, r := range runs {
		x := of[i]
		if r.N > len(x.result.Runs) {
			continue
		}
		levels := map[float64]float64{}
		for _, band := range x.result.Runs[r.N-1].Sound.ThirdOctaves {
			if band.NominalHz.OK && band.LeqDB.OK {
				levels[band.NominalHz.V] = band.LeqDB.V
				p.BandsHz = insert(p.BandsHz, band.NominalHz.V)
			}
		}
		if len(levels) == 0 {
			continue
		}
		all = append(all, levels)
		if x.whyNot == "" && r.N <= len(x.shown) {
			k := x.shown[r.N-1]
			if k.background != nil {
				rooms = append(rooms, k)
			} else if k.whyNoBackground != "" {
				p.Why = k.whyNoBackground
			}
		}
	}
	for _, levels := range all {
		var row []float64
		for _, hz := range p.BandsHz {
			row = append(row, at(levels, hz))
		}
		p.RunsDB = append(p.RunsDB, row)
	}
	if len(p.RunsDB) == 0 {
		return nil
	}
	p.Background = room(rooms, p.BandsHz)
	caption := "Equivalent level of each band over the motor-on time, unweighted; a decade is as long as 50 dB."
	if p.Background != nil {
		caption += fmt.Sprintf(" Background: the room and the running water before the first start, energy mean of %s.", rig.Count(len(rooms), "run"))
	} else {
		caption += " No background: " + p.Why + "."
	}
	return b.figure(stem, title+": third-octave levels of the motor-on time and of the background, in dB", caption, p)
}

// at returns a level, NaN if there is none.
func at(levels map[float64]float64, hz float64) float64 {
	if v, ok := levels[hz]; ok {
		return v
	}
	return math.NaN()
}

// insert puts a frequency into a rising list, once.
func insert(all []float64, hz float64) []float64 {
	for i, f := range all {
		if f == hz {
			return all
		}
		if f > hz {
			return append(all[:i], append([]float64{hz}, all[i:]...)...)
		}
	}
	return append(all, hz)
}

// room is the energy mean of backgrounds in the given bands; nil: there are none.
func room(rooms []curves, bands []float64) []float64 {
	if len(rooms) == 0 {
		return nil
	}
	out := make([]float64, len(bands))
	for i, hz := range bands {
		sum, n := 0.0, 0
		for _, k := range rooms {
			for j, f := range k.bandsHz {
				if v := k.background[j]; f == hz && !math.IsNaN(v) {
					sum, n = sum+math.Pow(10, v/10), n+1
				}
			}
		}
		out[i] = 10 * math.Log10(sum/float64(n)) // NaN where nobody has it
	}
	return out
}

// balance is where the charge of each run went; nil: nothing was weighed.
func (b *book) balance(runs []*score.Run, title, stem string) *figure {
	p := report.Balance{Title: title, Mass: b.Style.Mass}
	some := false
	for i, r := range runs {
		get := func(name string) rig.Figure { return r.Measure(name).Figure }
		k := report.BalanceRun{Name: fmt.Sprintf("run %d, %s", i+1, r.Day()), InputG: get("input_g"), LeftG: get("left_g"), CoarseG: get("coarse_g"), FineG: get("fine_g"), PassedG: get("passed_g")}
		some = some || k.InputG.OK && (k.LeftG.OK || k.CoarseG.OK || k.FineG.OK || k.PassedG.OK)
		p.Runs = append(p.Runs, k)
	}
	if !some {
		return nil
	}
	return b.figure(stem, title+": shares of the charge; the masses are in the table below",
		"Net masses as shares of the charge. Food takes up water, so more than all of it is possible.", p)
}

// files gives paths to what was drawn.
func (b *book) files() (names []string, content [][]byte) {
	for _, f := range b.plots {
		for _, form := range []string{report.SVG, report.PNG} {
			name := f.Stem + "." + form
			names = append(names, filepath.Join(plotsName, name))
			content = append(content, f.files[name])
		}
	}
	return names, content
}

// agree returns the word that goes with a number of things.
func agree(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
