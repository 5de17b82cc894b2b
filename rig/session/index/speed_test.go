package index

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/session"
)

// busy makes a session of ten minutes with ten readings of the scale a second, twenty weighings, two
// corrections since, and a stored analysis of one run with all its figures.
func busy(b *testing.B, dir string, set config.Setup) {
	b.Helper()
	w, err := session.Create(dir, session.Head{Setup: set, Started: started, Tool: "quern test", Origin: rig.Recorded,
		Streams: []session.Stream{{Stream: rig.Stream{Channel: rig.Scale, Form: rig.Mass, Unit: rig.Gram}}}})
	check(b, err)
	defer w.Close()
	for i := range 6000 {
		at := float64(i) / 10
		check(b, w.AppendReading(rig.Scale, rig.Reading{AtS: at, Value: at, Stable: rig.Yes}))
		if i%300 == 0 {
			_, err := w.AppendWeighing(rig.Weighing{AtS: at, Run: 1, Role: rig.Charge, Item: "bone", Vessel: "bowl-2",
				GrossG: rig.Fig(at), TareG: rig.Fig(212.5), NetG: rig.Fig(at), SpreadG: rig.Fig(0.5), Who: "ann"})
			check(b, err)
		}
	}
	check(b, w.Seal())
	correct(b, dir, "void", "rig", 1)
	correct(b, dir, "void", "no", 1)
	res := invented(set, 3)
	run := &res.Runs[0]
	for len(run.Events) < 12 {
		run.Events, run.States = append(run.Events, run.Events[0]), append(run.States, run.States[0])
	}
	for len(run.Sound.ThirdOctaves) < 30 {
		run.Sound.ThirdOctaves = append(run.Sound.ThirdOctaves, run.Sound.ThirdOctaves[0])
		run.Motor.HarmonicsA = append(run.Motor.HarmonicsA, rig.Fig(1.0/3))
	}
	s, err := session.Open(dir)
	check(b, err)
	check(b, session.StoreAnalysis(dir, s.Analysed(set.ForAnalysis(), "quern test", started, res)))
}

// many makes a folder of n busy sessions; their files are links to those of four.
func many(b *testing.B, lab *config.Lab, n int) string {
	b.Helper()
	models, folder := b.TempDir(), b.TempDir()
	for i, unit := range []string{"unit-a", "unit-b"} {
		for j, procedure := range []string{"mixed", "bones"} {
			busy(b, filepath.Join(models, fmt.Sprint(2*i+j)), setupOf(b, lab, unit, procedure))
		}
	}
	for i := range n {
		model := filepath.Join(models, fmt.Sprint(i%4))
		check(b, filepath.WalkDir(model, func(path string, d fs.DirEntry, err error) error {
			to := filepath.Join(folder, fmt.Sprintf("s%05d", i), strings.TrimPrefix(path, model))
			if err != nil || d.IsDir() {
				return os.Mkdir(to, 0o755)
			}
			return os.Link(path, to)
		}))
	}
	return folder
}

// BenchmarkRead reads folders of sessions without the index, making it, and from it.
func BenchmarkRead(b *testing.B) {
	lab := inventedLab(b, 240)
	for _, n := range []int{180, 5000} {
		folder := many(b, lab, n)
		for _, c := range []struct {
			name  string
			start func()
			o     Options
		}{
			{"without", func() {}, Options{Without: true}},
			{"made", func() { _ = os.Remove(filepath.Join(folder, Name)) }, Options{}},
			{"from it", func() {}, Options{}},
			{"from it, present settings", func() {}, Options{Present: true}},
		} {
			b.Run(fmt.Sprintf("%d sessions/%s", n, c.name), func(b *testing.B) {
				o := c.o
				o.Lab, o.now = lab, later
				if strings.HasPrefix(c.name, "from it") {
					if _, err := Read(folder, o); err != nil { // makes it
						b.Fatal(err)
					}
				}
				b.ReportAllocs()
				for b.Loop() {
					b.StopTimer()
					c.start()
					b.StartTimer()
					found, err := Read(folder, o)
					if err != nil || len(found.Records) != n {
						b.Fatal(len(found.Records), err)
					}
				}
				b.ReportMetric(float64(b.Elapsed())/float64(time.Millisecond)/float64(b.N), "ms")
			})
		}
	}
}
