package rig

// MinRateHz and MaxRateHz bound the sample rates of waveforms: what is brought in, and what the
// analysis takes.
const (
	MinRateHz = 1000.0
	MaxRateHz = 192000.0
)

// MinTableHz bounds the rates of a table of instantaneous current, which loggers write more slowly than sound cards:
// six samples a cycle of 60 Hz. Down to there frequency, RMS values and events are those of the same current at 8 kHz;
// single peaks fall between samples and are some 3 % off.
const MinTableHz = 400.0

// A measured rate may lie outside by these shares: the clock that wrote the times of a table is off itself, and a slow
// logger's more so.
const (
	slowSlack = 1e-2
	rateSlack = 1e-4
)

// RateTaken says whether waveforms of a rate are taken.
func RateTaken(hz float64) bool { return hz >= MinRateHz && hz <= MaxRateHz }

// MeasuredRateTaken says the same of a current whose rate was measured, not stated.
func MeasuredRateTaken(hz float64) bool {
	return hz >= MinTableHz*(1-slowSlack) && hz <= MaxRateHz*(1+rateSlack)
}
