package pages

import (
	"fmt"
	"math"
	"strings"

	"quern/config"
	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// checkPage is a check of an instrument.
type checkPage struct {
	Fact      int
	Text      string
	Withdrawn bool
}

// facts lists what people put on record.
func (p *sessionPage) facts(c *Catalogue, rec *rig.Record, runs []*score.Run) {
	last := map[string]int{} // the correction in force, by run and target
	for _, k := range rec.Facts.Corrections {
		last[fmt.Sprint(k.Run, k.Target)] = k.Fact
	}
	nets := score.Nets(&config.Bench{}, rec) // until it is analysed
	if len(runs) > 0 {
		nets = runs[0].Nets()
	}
	for i, w := range rec.Facts.Weighings {
		p.Weighings = append(p.Weighings, weighingPageOf(w, nets[i], rec.Facts.Corrections))
	}
	for _, k := range rec.Facts.Checks {
		text := string(k.Kind) + ": "
		nominal, found := report.CheckValues(k)
		if k.Found.OK {
			text += "found " + found
		}
		if k.Nominal.OK {
			text += ", should be " + nominal
		}
		p.Checks = append(p.Checks, checkPage{Fact: k.Fact, Text: strings.TrimSpace(text+" "+k.Note) + by(k.Who), Withdrawn: !rec.Facts.CheckCounts(k.Fact)})
	}
	for _, m := range rec.Facts.Remarks {
		p.Remarks = append(p.Remarks, remarkPage{m.Fact, report.AtWords(m.AtS), m.Text, m.Who, m.AtS})
	}
	for _, k := range rec.Facts.Corrections {
		x := correctionPage{Fact: k.Fact, Run: k.Run, Target: k.Target, Words: report.CorrectionWords(k), Who: k.Who, Why: k.Why, When: rec.InstantWords(k.At)}
		if last[fmt.Sprint(k.Run, k.Target)] == k.Fact {
			x.Back = takesBack(k, rec, runs, nets)
		}
		p.Corrections = append(p.Corrections, x)
	}
}

func by(who string) string {
	if who == "" {
		return ""
	}
	return ", by " + who
}

func weighingPageOf(w rig.Weighing, net score.Net, corrections []rig.Correction) weighingPage {
	grams := func(f rig.Figure) string {
		if !f.OK {
			return "-"
		}
		return fmt.Sprintf("%.1f g", f.V)
	}
	x := weighingPage{Fact: w.Fact, Run: w.Run, At: report.AtWords(w.AtS), What: string(w.Role), Net: grams(net.G), Gross: grams(w.GrossG), Tare: grams(w.TareG), Who: w.Who, Note: w.Note, NetG: net.G}
	if !w.TareG.OK && net.TareG.OK {
		x.Tare, x.From = grams(net.TareG), net.From
	}
	if w.Item != "" {
		x.What += ": " + w.Item
	}
	if w.Vessel != "" {
		x.What += " in " + w.Vessel
	}
	if w.DrainedS.OK {
		x.Drained = "drained " + report.TimeWords(w.DrainedS.V)
	}
	x.How = report.TakenWords(w)
	for _, k := range corrections {
		if k.Target == fmt.Sprintf("weighing.%d", w.Fact) {
			x.Corrected = "corrected to " + k.New + " g" + by(k.Who)
			if x.Withdrawn = k.New == "withdrawn"; x.Withdrawn {
				x.Corrected = "withdrawn" + by(k.Who)
			}
		}
	}
	return x
}

// takesBack returns the value of a further correction that undoes one; "": there is none.
func takesBack(k rig.Correction, rec *rig.Record, runs []*score.Run, nets []score.Net) string {
	what, name, _ := strings.Cut(k.Target, ".")
	switch what {
	case "void", "failed":
		if k.New != "no" {
			return "no"
		}
	case "unit":
		if k.New != rec.Unit {
			return rec.Unit
		}
	case "procedure":
		if k.New != rec.Procedure {
			return rec.Procedure
		}
	case "kind":
		if k.New != "scored" {
			return "scored"
		}
	case "check":
		if k.New == "withdrawn" {
			return "counts"
		}
		return "withdrawn"
	case "weighing":
		for i, w := range rec.Facts.Weighings {
			if was := fmt.Sprint(math.Round(nets[i].G.V*1e6) / 1e6); fmt.Sprint(w.Fact) == name && nets[i].G.OK && k.New != was {
				return was
			}
		}
	case "measure":
		for _, run := range runs {
			if v := run.Measure(name); (k.Run == 0 || k.Run == run.N) && v.Old.OK && v.OK && v.V != v.Old.V {
				return fmt.Sprintf("%g", v.Old.V)
			}
		}
	}
	return ""
}
