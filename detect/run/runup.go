package run

// A series motor's current falls as it runs up: fast in its first tenth of a second, and still somewhat after that. A
// heater's does not fall, a compressor's falls late and at once, what charges a capacitor falls within a cycle.

const (
	runUpFell   = 1.5  // times the mean of the second tenth of a second, that the largest cycle was
	runUpFalls  = 1.12 // times the current it settles at, that it was after its first cycle
	runUpLeast  = 0.25 // of rated, that it settles at
	runUpSoonS  = 0.02
	runUpTenthS = 0.1
)

// runsUp says of a current that began at the pending instant whether its course is that of a series motor's run-up.
func (f *flow) runsUp(c Current, lasted float64) bool {
	if f.lim.induction || f.lim.pulsed || lasted < settledS {
		return false
	}
	soon := f.between(runUpSoonS, runUpTenthS)
	second := f.between(runUpTenthS, 2*runUpTenthS)
	late := f.between(0.6*settledS, settledS)
	if second == 0 || late == 0 {
		return false // readings too far apart to show it
	}
	return late-f.base > runUpLeast*f.lim.ratedA && f.peak-f.base > runUpFell*(second-f.base) && soon-f.base > runUpFalls*(late-f.base)
}

// between is the mean RMS of the records so long after the pending instant, s; 0: there are none.
func (f *flow) between(fromS, toS float64) float64 {
	m := meanOver{}
	for i := range f.recent {
		if r := &f.recent[i]; r.StartS >= f.candS+fromS && r.EndS <= f.candS+toS {
			m.add(r.RMSA, 1)
		}
	}
	return m.mean()
}
