package live

import (
	"slices"

	"quern/rig"
)

// ScaleNow is what the scale shows, and what is made of it.
type ScaleNow struct {
	MassG        rig.Figure    `json:"mass_g"` // absent: no reading for some seconds
	AtRest       bool          `json:"at_rest"`
	Ready        bool          `json:"ready"` // a weighing can be taken
	Why          string        `json:"why,omitempty"`
	RestS        float64       `json:"rest_s"`
	NeedS        float64       `json:"need_s"`
	SpreadG      rig.Figure    `json:"spread_g"`
	SlopeGPerMin rig.Figure    `json:"slope_g_per_min"`
	Expect       *ExpectNow    `json:"expect,omitempty"`
	Drain        *DrainNow     `json:"drain,omitempty"`
	Capture      *CaptureNow   `json:"capture,omitempty"` // what last came to rest by itself
	Last         *WeighingNow  `json:"last,omitempty"`
	Weighings    []WeighingNow `json:"weighings,omitempty"`   // of the open session
	Outstanding  []rig.Role    `json:"outstanding,omitempty"` // what is to be weighed of a run that has ended
}

// ExpectNow is what is weighed next.
type ExpectNow struct {
	Role       rig.Role   `json:"role"`
	Item       string     `json:"item,omitempty"`
	Vessel     string     `json:"vessel,omitempty"`
	TareG      rig.Figure `json:"tare_g"`
	TargetG    rig.Figure `json:"target_g"` // net
	ToleranceG rig.Figure `json:"tolerance_g"`
	NetG       rig.Figure `json:"net_g"`         // on the pan now
	Why        string     `json:"why,omitempty"` // what is missing before it can be taken
}

// CaptureNow is a load that came to rest by itself.
type CaptureNow struct {
	AtS    rig.Figure `json:"at_s"`
	GrossG rig.Figure `json:"gross_g"`
	StepG  rig.Figure `json:"step_g"`
	Fact   int        `json:"fact,omitempty"` // the weighing that it became
	Why    string     `json:"why,omitempty"`  // why it became none
}

// scaleNow shows the scale; nil: there is none. Instants are of the session if one is open, else since
// the epoch.
func (e *Engine) scaleNow(nowS float64) *ScaleNow {
	if !e.hasScale {
		return nil
	}
	p := &e.pan
	n := p.taker.Now()
	s := &ScaleNow{MassG: n.MassG, AtRest: n.AtRest, Ready: n.Ready, RestS: round3(n.RestS), NeedS: round3(n.NeedS),
		SpreadG: n.SpreadG, SlopeGPerMin: n.SlopeGPerMin, Drain: e.drainNow(nowS), Weighings: p.booked}
	if n.MassG.OK && nowS-n.AtS > p.set.GapS {
		s.MassG, s.SpreadG, s.SlopeGPerMin = rig.Absent("no-reading"), rig.Absent("no-reading"), rig.Absent("no-reading")
		s.AtRest, s.Ready, s.RestS = false, false, 0
	}
	if p.motor {
		s.Why = "the motor runs"
	}
	s.Expect = e.expectNow(s.MassG)
	if p.capture != nil {
		c := *p.capture
		if e.rec != nil {
			c.AtS.V -= e.rec.fold.baseS
		}
		s.Capture = &c
	}
	for _, w := range slices.Backward(p.booked) {
		if !w.Withdrawn {
			s.Last = &w
			break
		}
	}
	if e.rec != nil && e.known.Runs > 0 && !p.motor {
		s.Outstanding = e.outstanding()
	}
	return s
}

// expectNow shows what is expected; nil: nothing is.
func (e *Engine) expectNow(massG rig.Figure) *ExpectNow {
	p := &e.pan
	if p.expect == nil {
		return nil
	}
	x := *p.expect
	out := &ExpectNow{Role: x.Role, Item: x.Item, Vessel: x.Vessel, NetG: massG}
	tare, _, err := e.tare(x)
	out.TareG = tare
	switch {
	case err != nil:
		out.Why, out.NetG = err.Error(), rig.Absent("no-tare")
	case massG.OK:
		out.NetG = rig.Fig(massG.V - tare.V)
	}
	if out.Why == "" && wet(x.Role) && !e.runEnded() {
		out.Why = "no run has ended yet"
	}
	out.TargetG, out.ToleranceG = e.target(x)
	return out
}
