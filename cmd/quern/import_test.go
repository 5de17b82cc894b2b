package main

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

// currentTable is the current as a table of instantaneous amperes.
func currentTable() string {
	var b strings.Builder
	b.WriteString("time_s,current_a\n")
	for i, v := range current() {
		fmt.Fprintf(&b, "%.5f,%.4f\n", float64(i)/clampHz, v)
	}
	return b.String()
}

// rmsTable is the current as one RMS value every 20 ms.
func rmsTable() string {
	const step = clampHz / 50
	var b strings.Builder
	b.WriteString("time_s,rms_a\n")
	x := current()
	for i := step; i <= len(x); i += step {
		sum := 0.0
		for _, v := range x[i-step : i] {
			sum += v * v
		}
		fmt.Fprintf(&b, "%.2f,%.4f\n", float64(i)/clampHz, math.Sqrt(sum/step))
	}
	return b.String()
}

const scaleTable = "time_s,mass_g,stable\n0.0,2500,1\n0.5,2500,1\n1.0,2498,0\n1.5,1200,0\n2.0,1200,1\n"

// rf64 turns a WAV file of one encoding into RF64, with its lengths in a ds64 chunk (EBU Tech 3306).
func rf64(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := strings.Index(string(b), "JUNK")
	data := strings.Index(string(b), "data")
	if at != 12 || binary.LittleEndian.Uint32(b[at+4:]) != 28 || data < 0 {
		t.Fatalf("the writer left no room for a ds64 chunk at byte 12: JUNK at %d, data at %d", at, data)
	}
	copy(b, "RF64")
	copy(b[at:], "ds64")
	le := binary.LittleEndian
	le.PutUint64(b[at+8:], uint64(le.Uint32(b[4:])))
	le.PutUint64(b[at+16:], uint64(le.Uint32(b[data+4:])))
	le.PutUint64(b[at+24:], 0)
	le.PutUint32(b[4:], math.MaxUint32)
	le.PutUint32(b[data+4:], math.MaxUint32)
	out := strings.TrimSuffix(path, ".wav") + "-rf64.wav"
	return put(t, filepath.Dir(out), filepath.Base(out), string(b))
}

func near(t *testing.T, what string, got rig.Figure, want, within float64) {
	t.Helper()
	if !got.OK || !(math.Abs(got.V-want) <= within) {
		t.Errorf("%s: got %v (%t, %s), want %v within %v", what, got.V, got.OK, got.Why, want, within)
	}
}

// TestImportForms brings the same session in by every form that the outer contract names, and wants the
// same figures each time. The tone's level is exact: A weights 1 kHz by 0 dB (IEC 61672-1).
func TestImportForms(t *testing.T) {
	dir := t.TempDir()
	mic := func(name string, enc wave.Encoding) string {
		return putWave(t, filepath.Join(dir, name), enc, micHz, pressure())
	}
	clamp := func(name string, enc wave.Encoding) string {
		return putWave(t, filepath.Join(dir, name), enc, clampHz, ofFullScale(current()))
	}
	pcm16, c24 := mic("16.wav", wave.PCM16), clamp("c24.wav", wave.PCM24)
	for _, c := range []struct {
		name       string
		args       []string
		rows       bool // the clamp gives RMS readings: times are as coarse as they
		noCurrent  bool
		noPressure bool
	}{
		{name: "pcm16", args: []string{"--microphone", pcm16, "--clamp", c24}},
		{name: "pcm24", args: []string{"--microphone", mic("24.wav", wave.PCM24), "--clamp", c24}},
		{name: "pcm32", args: []string{"--microphone", mic("32.wav", wave.PCM32), "--clamp", clamp("c32.wav", wave.PCM32)}},
		{name: "float32", args: []string{"--microphone", mic("f32.wav", wave.Float32), "--clamp", clamp("cf32.wav", wave.Float32)}},
		{name: "float64", args: []string{"--microphone", mic("f64.wav", wave.Float64), "--clamp", clamp("cf64.wav", wave.Float64)}},
		{name: "rf64", args: []string{"--microphone", rf64(t, pcm16), "--clamp", rf64(t, c24)}},
		{name: "current-table", args: []string{"--microphone", pcm16, "--clamp", put(t, dir, "c.csv", currentTable())}},
		{name: "rms-table", rows: true, args: []string{"--microphone", pcm16, "--clamp", put(t, dir, "rms.csv", rmsTable())}},
		{name: "with-scale", args: []string{"--microphone", pcm16, "--clamp", c24, "--scale", put(t, dir, "s.csv", scaleTable)}},
		{name: "microphone-only", noCurrent: true, args: []string{"--microphone", pcm16}},
		{name: "clamp-only", noPressure: true, args: []string{"--clamp", c24}},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := results(t, done(t, "replay", "--json", imported(t, c.name, c.args...)))
			if len(res) != 1 || len(res[0].Runs) != 1 {
				t.Fatalf("got %+v, want one session with one run", res)
			}
			r := res[0].Runs[0]
			withinS := 0.01
			if c.rows || c.noCurrent {
				withinS = 0.3
			}
			near(t, "start_s", r.StartS, onS, withinS)
			near(t, "end_s", r.EndS, offS, withinS)
			near(t, "motor_on_s", r.MotorOnS, offS-onS, 2*withinS)
			if c.noPressure != !r.Sound.LAeqDB.OK || c.noCurrent != !r.Motor.IdleA.OK && !c.rows {
				t.Errorf("sound %v, current %v", r.Sound.LAeqDB, r.Motor.IdleA)
			}
			if !c.noPressure {
				near(t, "laeq_db", r.Sound.LAeqDB, toneDB, 0.1)
			}
			if !c.noCurrent {
				mean := (0.2*30 + 2.8*idleA) / 3
				near(t, "mean_a", r.Motor.MeanA, mean, 0.1)
			}
			if !c.noCurrent && !c.rows {
				near(t, "frequency_hz", r.Motor.FrequencyHz, 60, 0.01)
				near(t, "inrush_a", r.Motor.InrushA, 30, 0.5)
			}
		})
	}
}

// TestImportChannel picks one channel of two; without a choice the first is taken, and that is said.
func TestImportChannel(t *testing.T) {
	quiet := make([]float64, lengthS*micHz)
	for i, v := range pressure() {
		quiet[i] = v / 10 // 20 dB less
	}
	two := putWave(t, filepath.Join(t.TempDir(), "two.wav"), wave.PCM24, micHz, pressure(), quiet)
	clamp := putWave(t, filepath.Join(t.TempDir(), "c.wav"), wave.PCM16, clampHz, ofFullScale(current()))
	for _, c := range []struct {
		args   []string
		want   float64
		warned bool
	}{{[]string{"--microphone", two}, toneDB, true}, {[]string{"--microphone", two, "--clamp", clamp}, toneDB, true},
		{[]string{"--microphone", two, "--channel", "1"}, toneDB, false}} {
		res := results(t, done(t, "replay", "--json", imported(t, "s", c.args...)))
		near(t, "laeq_db", res[0].Runs[0].Sound.LAeqDB, c.want, 0.1)
		warned := false
		for _, w := range res[0].Warnings {
			warned = warned || w.Code == "microphone-several-channels"
		}
		if warned != c.warned {
			t.Errorf("%v: warned %t, want %t: %v", c.args, warned, c.warned, res[0].Warnings)
		}
	}
	res := results(t, done(t, "replay", "--json", imported(t, "s", "--microphone", two, "--channel", "2")))
	if len(res[0].Runs) == 1 {
		near(t, "laeq_db of channel 2", res[0].Runs[0].Sound.LAeqDB, toneDB-20, 0.1)
	} else {
		t.Errorf("channel 2: %d runs, want 1: %v", len(res[0].Runs), res[0].Warnings)
	}
}

// TestAsTyped: the command that an import proposes can be pasted into a shell.
func TestAsTyped(t *testing.T) {
	for path, want := range map[string]string{"sessions/2026-03-01-a": "sessions/2026-03-01-a", "-dash": "./-dash", "run 1": "'run 1'", "it's": `'it'\''s'`, "größe/a:b": "größe/a:b"} {
		if got := asTyped(path); got != want {
			t.Errorf("%q: got %s, want %s", path, got, want)
		}
	}
}

// TestImportAfterOneCutOff takes away what a killed import left hidden, and says so; a later one has nothing to say.
func TestImportAfterOneCutOff(t *testing.T) {
	d := stage(t)
	left := put(t, d, ".s.partial-1/settings.toml", "")
	args := func(out string) []string {
		return []string{"import", "--lab", d + "/lab", "--unit", "unit-a", "--procedure", "mixed", "--out", d + "/" + out, "--scale", d + "/good.csv"}
	}
	said := done(t, args("a")...)
	if !strings.HasPrefix(said, filepath.Dir(left)+": removed; an import that was cut off had left it") || !strings.Contains(said, d+"/a: kept") {
		t.Errorf("got %q", said)
	}
	if _, err := os.Stat(left); err == nil {
		t.Error("it is still there")
	}
	if said := done(t, args("b")...); !strings.HasPrefix(said, d+"/b: kept") {
		t.Errorf("with nothing left behind: got %q", said)
	}
}

// TestImportStart keeps the wall time of the recordings' start.
func TestImportStart(t *testing.T) {
	scale := put(t, t.TempDir(), "s.csv", scaleTable)
	for start, want := range map[string]string{"": "1970-01-01T00:00:00Z", "2026-03-01T10:00:00Z": "2026-03-01T10:00:00Z", "2026-03-01T12:00:00+02:00": "2026-03-01T1"} {
		args := []string{"--scale", scale}
		if start != "" {
			args = append(args, "--start", start)
		}
		b, err := os.ReadFile(filepath.Join(imported(t, "s", args...), "manifest.json"))
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(string(b), `"started": "`+want) {
			t.Errorf("--start %q: the manifest does not say %s:\n%s", start, want, b)
		}
	}
}

// TestImportChannelBesideMono picks the second channel of the one recording that has two.
func TestImportChannelBesideMono(t *testing.T) {
	dir := t.TempDir()
	quiet, none := make([]float64, lengthS*micHz), make([]float64, lengthS*clampHz)
	one := putWave(t, filepath.Join(dir, "one.wav"), wave.PCM24, micHz, pressure())
	two := putWave(t, filepath.Join(dir, "two.wav"), wave.PCM24, micHz, quiet, pressure())
	clamp := putWave(t, filepath.Join(dir, "c.wav"), wave.PCM16, clampHz, ofFullScale(current()))
	both := putWave(t, filepath.Join(dir, "cc.wav"), wave.PCM16, clampHz, none, ofFullScale(current()))
	for _, c := range [][2]string{{two, clamp}, {one, both}, {two, both}} {
		res := results(t, done(t, "replay", "--json", imported(t, "s", "--microphone", c[0], "--clamp", c[1], "--channel", "2")))
		if len(res[0].Runs) != 1 {
			t.Fatalf("%v: %d runs, want 1: %v", c, len(res[0].Runs), res[0].Warnings)
		}
		near(t, "start_s", res[0].Runs[0].StartS, onS, 0.01)
		near(t, "laeq_db", res[0].Runs[0].Sound.LAeqDB, toneDB, 0.1)
	}
}

// TestImportRates wants what an import takes to be what the analysis takes, at and round the limits.
func TestImportRates(t *testing.T) {
	dir := t.TempDir()
	for _, hz := range []int{1, 999, 1000, 1001, 191999, 192000, 192001, 192019, 192020, 384000} {
		x := make([]float64, hz/10+1)
		for i := range x {
			x[i] = 0.01 * math.Sin(float64(i))
		}
		file := putWave(t, filepath.Join(dir, fmt.Sprintf("%d.wav", hz)), wave.PCM16, hz, x)
		var rows strings.Builder
		rows.WriteString("time_s,current_a\n")
		for i := range 200 {
			fmt.Fprintf(&rows, "%.12f,%d\n", float64(i)/float64(hz), i%3)
		}
		table := put(t, dir, fmt.Sprintf("%d.csv", hz), rows.String())
		for _, args := range [][]string{{"--microphone", file}, {"--clamp", file}, {"--clamp", table}} {
			out := filepath.Join(t.TempDir(), "s")
			got := quern(t, append([]string{"import", "--lab", putLab(t, filepath.Join(t.TempDir(), "lab"), bench), "--unit", "unit-a", "--procedure", "mixed", "--out", out}, args...)...)
			if inside := hz >= 1000 && hz <= 192000; got.status == 2 && !inside && !exists(out) && strings.Count(got.err, "\n") == 1 {
				continue // refused, with a line and nothing left
			} else if got.status != 0 || !inside && args[1] != table {
				t.Errorf("%d Hz, %v: status %d, %s", hz, args, got.status, got.err)
				continue
			}
			done(t, "replay", "--json", out)
		}
	}
}

// TestImportInUnits wants nothing of bench.toml where the recordings are in amperes and grams already.
func TestImportInUnits(t *testing.T) {
	dir := t.TempDir()
	lab := putLab(t, filepath.Join(dir, "lab"), "")
	done(t, "import", "--lab", lab, "--unit", "unit-a", "--procedure", "mixed", "--out", filepath.Join(dir, "s"),
		"--clamp", put(t, dir, "c.csv", currentTable()), "--scale", put(t, dir, "s.csv", scaleTable))
}

// People write capitals and underscores on what they buy.
func TestImportIDs(t *testing.T) {
	d := t.TempDir()
	lab := putLab(t, d+"/lab", bench)
	put(t, lab, "units.toml", "[[unit]]\nid = \"Unit_A\"\nrated_current_a = 6.0\n")
	put(t, lab, "procedures/mixed.toml", "id = \"Mixed_2\"\ntime_limit_s = 240.0\nclock = \"motor-on\"\n")
	done(t, "import", "--lab", lab, "--unit", "Unit_A", "--procedure", "Mixed_2", "--out", d+"/s", "--scale", put(t, d, "s.csv", scaleTable))
	if got := done(t, "replay", d+"/s", "--lab", lab, "--json"); !strings.HasPrefix(got, `{"session":"s","unit":"Unit_A","procedure":"Mixed_2",`) {
		t.Errorf("told as %.80s", got)
	}
}
