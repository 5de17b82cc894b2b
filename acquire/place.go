package acquire

import "math"

// Constants of placing samples in time, s. They are the project's own choice.
const (
	windowS  = 1.0    // the promptest delivery of each such window tells where the stream stands
	windows  = 10     // so many windows are looked at together
	slackS   = 0.001  // a smaller difference is left alone
	stepS    = 0.002  // largest correction at once: the analysis takes 10 ms or more for a gap
	jumpS    = 0.25   // samples later than this, by all windows, were lost without anyone counting
	settleS  = 3.0    // after a start the corrections come quicker
	overlapS = 0.0005 // what a restart may lie before what was told already
)

// placer places the samples of one stream in time. The stream's clock counts samples; the system's
// clock is what everything is told in. Samples can be late, never early, so the promptest deliveries
// say when samples were taken; the difference of the two clocks is followed in steps too small to see.
type placer struct {
	rateHz   float64
	latencyS float64

	placed  bool
	anchorS float64 // instant of sample 0 of the present anchor
	n       int64   // samples since
	startS  float64 // of the present stretch, since the last restart
	floorS  float64 // nothing may be placed before: it has been told that nothing came

	least  [windows]float64 // least lateness of the last windows
	filled int
	openS  float64 // start of the window at hand
	low    float64
	turned float64 // corrections since startS, s
}

// place returns the instant of the first of k samples that were in hand at gotS, lost of which are known
// to be missing before them, and whether time jumped.
func (p *placer) place(gotS float64, lost int64, k int) (startS float64, jumped bool) {
	at := gotS - p.latencyS
	if !p.placed {
		p.placed = true
		p.anchorS = max(at-float64(k)/p.rateHz, p.floorS)
		p.n, p.filled, p.turned = 0, 0, 0
		p.startS, p.openS, p.low = p.anchorS, at, math.Inf(1)
		lost = 0
	}
	p.n += lost
	startS = p.endS()
	p.n += int64(k)
	p.low = min(p.low, at-p.endS())
	window := windowS
	if at-p.startS < settleS {
		window = windowS / 10
	}
	if at-p.openS < window {
		return startS, false
	}
	p.least[p.filled%windows] = p.low
	p.filled++
	p.openS, p.low = at, math.Inf(1)
	late := p.least[0]
	for _, l := range p.least[:min(p.filled, windows)] {
		late = min(late, l)
	}
	switch {
	case late > jumpS && p.filled >= 3:
		p.shift(late)
		return startS, true
	case math.Abs(late) > slackS:
		step := min(max(late, -stepS), stepS)
		p.shift(step)
		p.turned += step
	}
	return startS, false
}

// shift moves what comes from now on.
func (p *placer) shift(byS float64) {
	p.anchorS = p.endS() + byS
	p.n = 0
	for i := range p.least {
		p.least[i] -= byS
	}
}

func (p *placer) endS() float64 { return p.anchorS + float64(p.n)/p.rateHz }

// restart says that the stream broke off: the next samples are placed afresh.
func (p *placer) restart() {
	if p.placed {
		p.floorS = max(p.floorS, p.endS()-overlapS)
	}
	p.placed = false
}

// driftPPM is how much faster than the system's clock the stream's clock runs, in millionths; false
// while that is not known.
func (p *placer) driftPPM() (float64, bool) {
	if !p.placed || p.endS()-p.startS < 60 {
		return 0, false
	}
	return -p.turned / (p.endS() - p.startS) * 1e6, true
}
