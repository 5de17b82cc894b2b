package overlay

import (
	"strings"

	"quern/rig"
	"quern/rig/report"
	"quern/rig/score"
)

// Final is what a run came to: the figures that stand once it is over, to the digit of the report.
type Final struct {
	RunTimeS rig.Figure
	LAeqDB   rig.Figure // corrected for the background
	AsHeard  rig.Figure // LAeq as measured; shown where there is no other
	LAFmaxDB rig.Figure
	MeanA    rig.Figure
	MaxA     rig.Figure
}

// FinalOf takes the figures from an analysis.
func FinalOf(r rig.Run) Final {
	return Final{RunTimeS: r.RunTimeS, LAeqDB: r.Sound.LAeqCorrectedDB, AsHeard: r.Sound.LAeqDB, LAFmaxDB: r.Sound.LAFmaxDB,
		MeanA: r.Motor.MeanA, MaxA: r.Motor.MaxA}
}

// FinalScored takes them as the report prints them, with all that was corrected by hand.
func FinalScored(r *score.Run) Final {
	of := func(name string) rig.Figure { return r.Measure(name).Figure }
	return Final{RunTimeS: of("run_time_s"), LAeqDB: of("laeq_db"), AsHeard: of("laeq_uncorrected_db"), LAFmaxDB: of("lafmax_db"),
		MeanA: of("mean_a"), MaxA: of("max_a")}
}

// read is a figure with its name above it.
type read struct{ label, value string }

// reads returns the final figures in the order in which they stand; those that are absent are left out.
func (f Final) reads() []read {
	var out []read
	add := func(name string, v rig.Figure, label string) bool {
		x, ok := v.Value()
		if ok {
			text, _, _ := strings.Cut(report.MeasureWords(name, x), " ") // the label says the unit
			out = append(out, read{label, text})
		}
		return ok
	}
	if !add("laeq_db", f.LAeqDB, "LAeq of run, dB") {
		add("laeq_uncorrected_db", f.AsHeard, "LAeq as measured, dB")
	}
	add("mean_a", f.MeanA, "Mean of run, A")
	add("lafmax_db", f.LAFmaxDB, "LAFmax, dB")
	add("max_a", f.MaxA, "Max, A")
	return out
}
