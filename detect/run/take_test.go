package run

import "testing"

// The largest RMS wants whole cycles, the largest instant does not: the inrush lies in the first half cycles, whose
// windows are torn.
func TestPeakOfTornWindows(t *testing.T) {
	var f Found
	f.take(Current{StartS: 0, EndS: 1.0 / 60, RMSA: 20, PeakA: 48, Torn: true, Wave: true})
	f.take(Current{StartS: 1.0 / 120, EndS: 1.5 / 60, RMSA: 6, PeakA: 9, Wave: true})
	if f.PeakA != 48 || f.MaxA != 6 {
		t.Errorf("found a peak of %g A and a largest RMS of %g A, expected 48 and 6", f.PeakA, f.MaxA)
	}
	f.take(Current{StartS: 2.0 / 120, EndS: 2.0 / 60, RMSA: 6, PeakA: 9, FirstA: 24, Wave: true})
	if f.MaxA != 24 {
		t.Errorf("found a largest RMS of %g A, expected that of the first cycle, 24", f.MaxA)
	}
}
