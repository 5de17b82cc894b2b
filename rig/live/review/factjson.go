package review

import "quern/rig"

// The facts of package rig as JSON. Figures that are missing are null.
type (
	// WeighingFact is rig.Weighing.
	WeighingFact struct {
		Fact         int        `json:"fact"`
		AtS          rig.Figure `json:"at_s"`
		Run          int        `json:"run"`
		Role         rig.Role   `json:"role"`
		Item         string     `json:"item"`
		Vessel       string     `json:"vessel"`
		GrossG       rig.Figure `json:"gross_g"`
		TareG        rig.Figure `json:"tare_g"`
		NetG         rig.Figure `json:"net_g"`
		Shown        string     `json:"shown"`
		Stable       *bool      `json:"stable"`
		SpreadG      rig.Figure `json:"spread_g"`
		SlopeGPerMin rig.Figure `json:"slope_g_per_min"`
		DrainedS     rig.Figure `json:"drained_s"`
		Typed        bool       `json:"typed"`
		Auto         bool       `json:"auto"`
		Shaken       bool       `json:"shaken"`
		Who          string     `json:"who"`
		Note         string     `json:"note"`
	}
	// CheckFact is rig.Check.
	CheckFact struct {
		Fact    int           `json:"fact"`
		AtS     rig.Figure    `json:"at_s"`
		Kind    rig.CheckKind `json:"kind"`
		Nominal rig.Figure    `json:"nominal"`
		Found   rig.Figure    `json:"found"`
		Who     string        `json:"who"`
		Note    string        `json:"note"`
	}
	// CorrectionFact is rig.Correction.
	CorrectionFact struct {
		Fact   int        `json:"fact"`
		At     string     `json:"at"` // RFC 3339; given by the daemon
		Run    int        `json:"run"`
		Target string     `json:"target"`
		Old    string     `json:"old"`
		New    string     `json:"new"`
		U      rig.Figure `json:"u"`
		Who    string     `json:"who"`
		Why    string     `json:"why"`
	}
	// RemarkFact is rig.Remark.
	RemarkFact struct {
		Fact int        `json:"fact"`
		AtS  rig.Figure `json:"at_s"`
		Run  int        `json:"run"`
		Text string     `json:"text"`
		Who  string     `json:"who"`
	}
)

func factsOf(f rig.Facts) factsJSON {
	out := factsJSON{[]WeighingFact{}, []CheckFact{}, []CorrectionFact{}, []RemarkFact{}}
	for _, w := range f.Weighings {
		x := WeighingFact{Fact: w.Fact, AtS: rig.Fig(w.AtS), Run: w.Run, Role: w.Role, Item: w.Item, Vessel: w.Vessel, GrossG: w.GrossG, TareG: w.TareG, NetG: w.NetG, Shown: w.Shown,
			SpreadG: w.SpreadG, SlopeGPerMin: w.SlopeGPerMin, DrainedS: w.DrainedS, Typed: w.Typed, Auto: w.Auto, Shaken: w.Shaken, Who: w.Who, Note: w.Note}
		if w.Stable != rig.Unsaid {
			yes := w.Stable == rig.Yes
			x.Stable = &yes
		}
		out.Weighings = append(out.Weighings, x)
	}
	for _, c := range f.Checks {
		out.Checks = append(out.Checks, CheckFact{c.Fact, rig.Fig(c.AtS), c.Kind, c.Nominal, c.Found, c.Who, c.Note})
	}
	for _, k := range f.Corrections {
		out.Corrections = append(out.Corrections, CorrectionFact{k.Fact, k.At.UTC().Format("2006-01-02T15:04:05Z07:00"), k.Run, k.Target, k.Old, k.New, k.U, k.Who, k.Why})
	}
	for _, r := range f.Remarks {
		out.Remarks = append(out.Remarks, RemarkFact{r.Fact, rig.Fig(r.AtS), r.Run, r.Text, r.Who})
	}
	return out
}

type factsJSON struct {
	Weighings   []WeighingFact   `json:"weighings"`
	Checks      []CheckFact      `json:"checks"`
	Corrections []CorrectionFact `json:"corrections"`
	Remarks     []RemarkFact     `json:"remarks"`
}
