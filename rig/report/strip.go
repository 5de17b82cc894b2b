package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"quern/rig"
)

// A strip is the ribbon of one run, small: thickness and pattern tell the state, the limit is an edge on the
// right. Its patterns are those of StripPatterns, which a page holds once; its shades are the style sheet's.

const (
	stripWidth, stripHeight = 240.0, 22.0 // CSS pixels
	stripLimit              = 0.96        // where the limit stands, as a share of the width
)

// StripPatterns are the hatchings that strips refer to.
const StripPatterns = template.HTML(`<svg class="defs" width="0" height="0" aria-hidden="true"><defs>` +
	`<pattern id="ruled" width="4" height="4" patternUnits="userSpaceOnUse"><path class="ov-line" d="M-1 1l2-2M0 4l4-4M3 5l2-2"/></pattern>` +
	`<pattern id="crossed" width="4" height="4" patternUnits="userSpaceOnUse"><path class="st-line" d="M-1 1l2-2M0 4l4-4M3 5l2-2M-1 3l2 2M0 0l4 4M3-1l2 2"/></pattern>` +
	`</defs></svg>`)

// Strip draws a run as an element of a page. The scale is that of the limit, so that runs of a procedure compare; a run that took
// longer has a scale of its own.
func Strip(run *rig.Run, limitS float64) template.HTML {
	if run == nil || !run.StartS.OK || !run.EndS.OK || run.EndS.V <= run.StartS.V {
		return ""
	}
	from, to := run.StartS.V, run.EndS.V
	limitAt, limited := LimitAt(*run, limitS)
	span := to - from
	if limited {
		span = math.Max(span, (limitAt-from)/stripLimit)
	}
	x := func(at float64) float64 { return (at - from) / span * stripWidth }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="strip" width="%g" height="%g" viewBox="0 0 %g %g" role="img" aria-label="%s">`,
		stripWidth, stripHeight, stripWidth, stripHeight, template.HTMLEscapeString(stripWords(run, limitS)))
	fmt.Fprintf(&b, `<path class="off" d="M0 %g.5H%g"/>`, math.Floor(stripHeight/2), stripWidth)
	for _, grave := range []bool{false, true} { // what is rare and grave comes last, and is never too thin to be seen
		for _, s := range run.States {
			if s.FromS.OK && s.ToS.OK && (s.State == rig.Stalled || s.State == rig.Tripped || s.State == rig.Overloaded) == grave {
				stripSpan(&b, s.State, x(s.FromS.V), x(s.ToS.V))
			}
		}
	}
	for _, e := range run.Events {
		if e.Kind == rig.Trip && e.AtS.OK {
			fmt.Fprintf(&b, `<path class="trip" d="M%.1f %gl8 8m0-8l-8 8"/>`, x(e.AtS.V)+1, stripHeight/2-4)
		}
	}
	if limited && x(limitAt) <= stripWidth {
		at := x(limitAt)
		fmt.Fprintf(&b, `<path class="limit" d="M%.1f 0V%g"/><path class="teeth" d="`, at, stripHeight)
		for y := 2.0; y < stripHeight; y += 5 {
			fmt.Fprintf(&b, "M%.1f %gl4 4", at, y)
		}
		b.WriteString(`"/>`)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

// stripSpan draws a stretch in one state.
func stripSpan(b *strings.Builder, s rig.State, x0, x1 float64) {
	mid := stripHeight / 2
	box := func(class, fill string, share float64) {
		if fill != "" {
			fill = ` fill="url(#` + fill + `)"`
		}
		h := share * (stripHeight - 2)
		fmt.Fprintf(b, `<rect class="%s"%s x="%.2f" y="%.1f" width="%.2f" height="%.1f"/>`, class, fill, x0, mid-h/2, max(x1-x0, 0.3), h)
	}
	switch s {
	case rig.Starting:
		fmt.Fprintf(b, `<path class="starting" d="M%.2f 1V%gL%.2f %.1fV%.1fZ"/>`, x0, stripHeight-1, max(x1, x0+1), mid+3.4, mid-3.4)
	case rig.NoLoad:
		box("no-load", "", 0.34)
	case rig.Loaded:
		box("loaded", "", 0.7)
	case rig.Overloaded:
		x1 = max(x1, x0+2.5)
		box("paper", "", 0.92)
		box("overloaded", "ruled", 0.92)
	case rig.Stalled:
		x1 = max(x1, x0+2.5)
		box("paper", "", 1)
		box("stalled", "crossed", 1)
	case rig.Tripped:
		x1 = max(x1, x0+2.5)
		box("paper", "", 1)
	case rig.Unknown:
		box("unknown", "", 0.6)
	}
}

// stripWords tells what a strip shows to who does not see it.
func stripWords(run *rig.Run, limitS float64) string {
	var parts []string
	if run.RunTimeS.OK {
		text := "run time " + minutes(run.RunTimeS.V)
		if limitS > 0 {
			text += " of " + minutes(limitS)
		}
		parts = append(parts, text)
	}
	count := map[rig.Kind]int{}
	for _, e := range run.Events {
		count[e.Kind]++
	}
	for _, k := range []struct {
		kind rig.Kind
		word string
	}{{rig.StallStart, "stall"}, {rig.OverloadStart, "overload"}, {rig.Trip, "presumed trip"}} {
		switch n := count[k.kind]; {
		case n == 1:
			parts = append(parts, "1 "+k.word)
		case n > 1:
			parts = append(parts, fmt.Sprintf("%d %ss", n, k.word))
		}
	}
	if count[rig.LoadEnd] == 0 {
		parts = append(parts, "not clear at the end")
	}
	return strings.Join(parts, ", ")
}
