package run

import "math/cmplx"

const (
	fadesN  = 1.5  // cycles before a current is gone, what was switched off had been gone already
	sagsBy  = 0.05 // share by which the supply sags at least, if a rectifier draws nothing for that long
	noThird = 0.1  // of the third harmonic of the empty motor, below which nothing of it is left: in a sag there is
)

// leftAlone returns what has flowed since the pending fall, A. ok: as evenly as nothing that turns draws it, and it is what other
// appliances are known to draw: had the supply sagged, they too would have drawn less.
func (f *flow) leftAlone(c Current, gap float64) (leftA float64, ok bool) {
	if !c.Wave || gap < f.lim.set.OffHoldS || !f.shares() {
		return 0, false
	}
	cs := between(f.recent, f.candS+mixedS/2, c.StartS-(c.EndS-c.StartS))
	left := sideOf(cs)
	switch {
	case len(cs) == 0 || left.dev > leftDev*left.mean+f.strays():
		return 0, false
	case f.lim.pulsed && f.showsThird(): // its pulses tell, also where what the others draw is hardly known
		return left.mean, left.mean > (1-sagsBy)*f.other && f.thirdOn(cs) < noThird*f.thirdIdle
	}
	return left.mean, f.onlyOthers(left.mean) && (!f.showsThird() || f.thirdGone(cs, left.mean))
}

// faded looks back from where a current fades away for where the motor's went. What is switched off is gone within a cycle; what
// takes several, and leaves a rest, is the inrush of a small motor that was switched on about then: the motor stopped at the
// last step down.
func (f *flow) faded() (atS, leftA float64, ok bool) {
	n := len(f.recent)
	if !f.cand.Wave || f.recent[n-1].RMSA < f.gapA() {
		return 0, 0, false
	}
	per := f.cand.EndS - f.cand.StartS
	for i := n - 3; i > 0 && f.recent[i].StartS > f.cand.StartS-guestEndS; i-- {
		was, is := &f.recent[i-1], &f.recent[i+2]
		if !(was.FundA > 0) || is.RMSA > was.RMSA || cmplx.Abs(vector(is, was, 1/per)-complex(was.FundA, 0)) < vectorShare*f.idleRef() {
			continue
		}
		at := (f.recent[i].midS() + f.recent[i+1].midS()) / 2
		return at, is.RMSA, at < f.candS-fadesN*per && at > f.decided
	}
	return 0, 0, false
}
