package main

import (
	"bytes"
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quern/rig/wave"
)

// said is what one command line came to.
type said struct {
	status   int
	out, err string
}

// quern runs one command line in this process.
func quern(t testing.TB, args ...string) said {
	t.Helper()
	return quernUntil(context.Background(), args...)
}

// quernUntil runs one command line until the context ends.
func quernUntil(ctx context.Context, args ...string) said {
	var out, err bytes.Buffer
	status := run(ctx, env{args: args, out: &out, err: &err, now: func() time.Time { return time.Unix(0, 0) }})
	return said{status, out.String(), err.String()}
}

// done runs a command line that must succeed, in silence on standard error, and returns its output.
func done(t testing.TB, args ...string) string {
	t.Helper()
	s := quern(t, args...)
	if s.status != 0 || s.err != "" {
		t.Fatalf("quern %s: status %d, standard error %q", strings.Join(args, " "), s.status, s.err)
	}
	return s.out
}

// put writes a file into the folder and returns its path.
func put(t testing.TB, dir, name, content string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return !errors.Is(err, os.ErrNotExist)
}

// bench is the lab of the tests: that of the outer contract.
const bench = `[supply]
voltage_v = 120.0
frequency_hz = 60.0
[microphone]
full_scale_db = 120.0
[clamp]
full_scale_a = 100.0
`

// putLab writes a lab folder and returns its path.
func putLab(t testing.TB, dir, bench string) string {
	t.Helper()
	put(t, dir, "bench.toml", bench)
	put(t, dir, "units.toml", "[[unit]]\nid = \"unit-a\"\nrated_current_a = 6.0\nlocked_rotor_a = 33.0\nmotor = \"induction\"\n")
	put(t, dir, "procedures/mixed.toml", "id = \"mixed\"\ntime_limit_s = 240.0\nclock = \"motor-on\"\ncharge_g = 2500.0\n")
	put(t, dir, "procedures/waiting.toml", "id = \"waiting\"\nclock = \"elapsed\"\n")
	put(t, dir, "scorecard.toml", "")
	return dir
}

// The invented session of these tests: the motor is on from onS to offS, drawing idleA after a run-up,
// with a 1 kHz tone of toneDB at the microphone.
const (
	lengthS = 6.0
	onS     = 2.0
	offS    = 5.0
	idleA   = 4.0
	toneDB  = 84.0
	micHz   = 16000
	clampHz = 4000
)

func motorOn(s float64) bool { return s >= onS && s < offS }

// pressure is the sound as fractions of full scale (120 dB).
func pressure() []float64 {
	r := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, lengthS*micHz)
	for i := range x {
		s := float64(i) / micHz
		x[i] = 1e-4 * r.NormFloat64()
		if motorOn(s) {
			x[i] += math.Pow(10, (toneDB-120)/20) * math.Sin(2*math.Pi*1000*s)
		}
	}
	return x
}

// current is the current in amperes.
func current() []float64 {
	r := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, lengthS*clampHz)
	for i := range x {
		s := float64(i) / clampHz
		x[i] = 0.01 * r.NormFloat64()
		if motorOn(s) {
			rms := idleA
			if s < onS+0.2 {
				rms = 30
			}
			x[i] += math.Sqrt2 * rms * math.Sin(2*math.Pi*60*s)
		}
	}
	return x
}

// ofFullScale returns amperes as fractions of full scale (100 A).
func ofFullScale(amperes []float64) []float64 {
	x := make([]float64, len(amperes))
	for i, v := range amperes {
		x[i] = v / 100
	}
	return x
}

// putWave writes a WAV file whose channels are given one after the other, and returns its path.
func putWave(t testing.TB, path string, enc wave.Encoding, rateHz int, channels ...[]float64) string {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	w, err := wave.Create(f, wave.Format{RateHz: rateHz, Channels: len(channels), Encoding: enc}, path)
	if err != nil {
		t.Fatal(err)
	}
	frames := make([]float64, 0, len(channels)*len(channels[0]))
	for i := range channels[0] {
		for _, c := range channels {
			frames = append(frames, c[i])
		}
	}
	if err := errors.Join(w.Write(frames), w.Close(), f.Close()); err != nil {
		t.Fatal(err)
	}
	return path
}

// imported imports recordings, which must succeed, and returns the session's folder.
func imported(t testing.TB, name string, recordings ...string) string {
	t.Helper()
	dir := t.TempDir()
	out := filepath.Join(dir, name)
	done(t, append([]string{"import", "--lab", putLab(t, filepath.Join(dir, "lab"), bench), "--unit", "unit-a", "--procedure", "mixed", "--out", out}, recordings...)...)
	return out
}

// both imports the invented session with sound and current.
func both(t testing.TB, name string) string {
	t.Helper()
	dir := t.TempDir()
	return imported(t, name, "--microphone", putWave(t, filepath.Join(dir, "m.wav"), wave.PCM24, micHz, pressure()),
		"--clamp", putWave(t, filepath.Join(dir, "c.wav"), wave.PCM16, clampHz, ofFullScale(current())))
}
