package detect_test

import (
	"testing"

	"quern/detect"
)

// BenchmarkAnalyse is a minute of 48 kHz sound and 8 kHz current with everything on; x real time is
// told beside the usual figures. Run it with GOMAXPROCS=1 for one core.
func BenchmarkAnalyse(b *testing.B) {
	src := tone([][2]float64{{5, 25}, {30, 55}}, 60, 75, 40)
	set := setup()
	for b.Loop() {
		src.at = [3]int{}
		if _, err := detect.Analyse(src, set, "s", detect.Trace{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(60*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
