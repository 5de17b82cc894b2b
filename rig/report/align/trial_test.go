package align

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"quern/acquire/sim"
	"quern/rig/wave"
)

// outcome is what came of one camera.
type outcome struct {
	found    bool
	offS     float64 // largest error within the overlap
	withinS  float64 // stated
	stranger bool    // another session was taken for its own
}

// TestCameras films simulated sessions and lines the footage up; QUERN_CAMERAS=200 makes it long. Every camera is
// compared with another session of the same unit and scenario too, which must be refused. Every fourth camera
// stands so far off that most of what it hears is echo. Where ffmpeg is there, the long test sends the sound
// through a codec at a low bit rate.
func TestCameras(t *testing.T) {
	if testing.Short() {
		t.Skip("it computes for long")
	}
	n := 8
	if v := os.Getenv("QUERN_CAMERAS"); v != "" {
		var err error
		if n, err = strconv.Atoi(v); err != nil {
			t.Fatal(err)
		}
	}
	_, err := exec.LookPath("ffmpeg")
	codec := err == nil && n > 8
	names := sim.Names()
	names = slices.DeleteFunc(names, func(s string) bool { return s == "no-microphone" })
	all := make([]outcome, n)
	t.Run("camera", func(t *testing.T) {
		for i := range n {
			t.Run(strconv.Itoa(i), func(t *testing.T) {
				t.Parallel()
				all[i] = tried(t, i, names[i%len(names)], codec)
			})
		}
	})
	found, right, covered, wrong, worstS := 0, 0, 0, 0, 0.0
	for _, o := range all {
		if o.stranger {
			wrong++
		}
		if !o.found {
			continue
		}
		found++
		worstS = max(worstS, o.offS)
		if o.offS <= 0.005 {
			right++
		}
		if o.offS <= o.withinS {
			covered++
		}
	}
	t.Logf("of %d cameras %d are found, %d to 5 ms, %d within what is stated, worst %.2f ms; of %d other sessions %d are accepted; codec %v", n, found, right, covered, 1000*worstS, n, wrong, codec)
	if float64(right) < 0.99*float64(n) {
		t.Errorf("%d of %d are right, expected 99 %%", right, n)
	}
	if float64(covered) < 0.95*float64(found) {
		t.Errorf("%d of %d errors are within what is stated, expected 95 %%", covered, found)
	}
	if wrong > 0 {
		t.Errorf("%d other sessions are accepted", wrong)
	}
}

// tried films one session and looks for the footage in it and in another.
func tried(t *testing.T, i int, name string, codec bool) outcome {
	rng := rand.New(rand.NewPCG(uint64(i), 4))
	h := played(t, scenario(t, name, uint64(100+i)))
	d := h.seconds()
	s := shot{seed: uint64(i), rateHz: []float64{16000, 16000, 8000, 44100, 48000, 22050}[rng.IntN(6)],
		driftPPM: 200*rng.Float64() - 100, noiseDB: 10, echo: true, gain: rng.IntN(2) == 0, far: i%4 == 3}
	if i%2 == 0 {
		s.rateHz, s.driftPPM = 16000, 100
	}
	kind := []string{"inside", "begins before", "ends after", "all", "steady"}[rng.IntN(5)]
	common := 15 + rng.Float64()*(d-15)/2
	switch kind {
	case "inside":
		s.lastsS = min(15+rng.Float64()*45, d-2)
		s.offsetS = rng.Float64() * (d - s.lastsS)
	case "begins before":
		s.lastsS = common + 5 + 60*rng.Float64()
		s.offsetS = common - s.lastsS
	case "ends after":
		s.lastsS = common + 5 + 60*rng.Float64()
		s.offsetS = d - common
	case "all":
		s.offsetS = -30 * rng.Float64()
		s.lastsS = d + 60
	case "steady":
		s.lastsS = 15
		s.offsetS = steadiest(h, s.lastsS)
	}
	footage := film(h, s)
	if codec {
		footage = coded(t, footage)
	}
	what := fmt.Sprintf("%s, %s, far %v, %.0f Hz, %.1f of %.1f s from %.1f s, %.0f ppm", name, kind, s.far, s.rateHz, s.lastsS, d, s.offsetS, s.driftPPM)
	a, tr, err := find(footage.again(), h.again())
	var o outcome
	switch code(err) {
	case "":
		if err != nil {
			t.Error(err)
			return o
		}
		o.found, o.offS, o.withinS = true, worst(a, s), a.WithinS
		if o.offS > min(o.withinS, 0.005) {
			t.Logf("%s: off by %.2f ms: %+v", what, 1000*o.offS, a)
		}
	default:
		t.Logf("%s: refused: %v", what, err)
		tr.tell(t)
	}
	other := played(t, scenario(t, name, uint64(5000+i)))
	if a, err := Find(footage.again(), other); err == nil {
		t.Logf("%s: matches a session that it is not of: %+v", what, a)
		o.stranger = true
	}
	return o
}

// tell says how it came to a refusal.
func (tr *trail) tell(t *testing.T) {
	for _, l := range linesOf(tr.coarse) {
		t.Logf("line: lag %.4f s at %.1f s, drift %.0f ppm, weight %.0f of %d stretches", l.lagS, l.midS, 1e6*l.drift, l.weight, len(l.parts))
	}
	for _, size := range groups {
		f := tr.best
		f.lay(size)
		f.judge()
		heard, beside := 0, 0
		for _, u := range f.units {
			if u.heard {
				heard++
			}
		}
		for shiftS := 2 * onLineS; shiftS < searchS; shiftS += onLineS / 2 {
			all := func(unit) bool { return true }
			beside = max(beside, f.onLine(shiftS, all), f.onLine(-shiftS, all))
		}
		t.Logf("by %d: %d of %d agree, %d heard, %d beside, evidence %.1f; lag %.4f s, drift %.0f ppm", size, f.agreeing, len(f.units), heard, beside, f.evidence, f.lagS, 1e6*f.drift)
	}
}

// steadiest returns where the sound of a session changes least: the motor runs, and nothing else happens.
func steadiest(h *heard, seconds float64) float64 {
	step := int(h.rateHz / 4)
	var level []float64
	for i := 0; i+step <= len(h.samples); i += step {
		var e float64
		for _, v := range h.samples[i : i+step] {
			e += v * v
		}
		level = append(level, math.Log(e+1e-12))
	}
	n := int(seconds * 4)
	best, at := math.Inf(1), 0
	loud := 0.0
	for _, v := range level {
		loud += v / float64(len(level))
	}
	for i := 0; i+n <= len(level); i++ {
		var mean, change float64
		for k, v := range level[i : i+n] {
			mean += v / float64(n)
			if k > 0 {
				change += math.Abs(v - level[i+k-1])
			}
		}
		if mean > loud && change < best {
			best, at = change, i
		}
	}
	return float64(at) / 4
}

// coded sends footage through a lossy codec and back.
func coded(t *testing.T, h *heard) *heard {
	t.Helper()
	dir := t.TempDir()
	in, mid, out := filepath.Join(dir, "in.wav"), filepath.Join(dir, "mid.mp4"), filepath.Join(dir, "out.wav")
	write(t, in, h)
	run := func(args ...string) {
		if b, err := exec.Command("ffmpeg", append([]string{"-nostdin", "-loglevel", "error", "-y"}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("ffmpeg %v: %v: %s", args, err, b)
		}
	}
	run("-i", in, "-c:a", "aac", "-b:a", "32k", mid)
	run("-i", mid, "-vn", "-ac", "1", out)
	return readWAV(t, out)
}

func write(t *testing.T, name string, h *heard) {
	t.Helper()
	b := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00")
	put := func(v uint32) { b = binary.LittleEndian.AppendUint32(b, v) }
	put(uint32(h.rateHz))
	put(2 * uint32(h.rateHz))
	b = append(b, 2, 0, 16, 0)
	b = append(b, "data"...)
	put(uint32(2 * len(h.samples)))
	for _, v := range h.samples {
		b = binary.LittleEndian.AppendUint16(b, uint16(int16(max(-32768, min(32767, math.Round(v*32768))))))
	}
	binary.LittleEndian.PutUint32(b[4:], uint32(len(b)-8))
	if err := os.WriteFile(name, b, 0o644); err != nil {
		t.Fatal(err)
	}
}

func readWAV(t *testing.T, name string) *heard {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	r, err := wave.Open(f, info.Size(), name)
	if err != nil {
		t.Fatal(err)
	}
	h := &heard{rateHz: float64(r.Format().RateHz), samples: make([]float64, r.Frames())}
	if _, err := r.Read(h.samples, 1); err != nil && len(h.samples) > 0 {
		t.Fatal(err)
	}
	return h
}
