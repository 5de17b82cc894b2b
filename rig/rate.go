package rig

// MinRateHz and MaxRateHz bound the sample rates of waveforms: what is brought in, and what the
// analysis takes.
const (
	MinRateHz = 1000.0
	MaxRateHz = 192000.0
)

// rateSlack is the share by which a measured rate may lie outside: the clock that wrote the times of a
// table is a little off itself.
const rateSlack = 1e-4

// RateTaken says whether waveforms of a rate are taken.
func RateTaken(hz float64) bool { return hz >= MinRateHz && hz <= MaxRateHz }

// MeasuredRateTaken says the same of a rate that was measured, not stated.
func MeasuredRateTaken(hz float64) bool {
	return hz >= MinRateHz*(1-rateSlack) && hz <= MaxRateHz*(1+rateSlack)
}
