package align

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"testing"
)

// code returns the code of a refusal, "" if there is none.
func code(err error) string {
	var r *Refusal
	if errors.As(err, &r) {
		return r.Code
	}
	return ""
}

// hum is what a motor sounds like that nothing is ground in: tones, and very little else.
func hum(seconds, baseHz, noise float64, seed uint64) *heard {
	const rate = 16000
	rng := rand.New(rand.NewPCG(seed, 5))
	x := make([]float64, int(seconds*rate))
	var phase [24]float64
	for k := range phase {
		phase[k] = 2 * math.Pi * rng.Float64()
	}
	for i := range x {
		at := float64(i) / rate
		v := 0.0
		for k := range phase {
			v += math.Sin(2*math.Pi*baseHz*float64(k+1)*at+phase[k]) / float64(k+1)
		}
		v *= 1 + 0.3*math.Sin(2*math.Pi*1.7*at) // it breathes
		x[i] = 0.1*v + noise*rng.NormFloat64()
	}
	return &heard{rateHz: rate, samples: x}
}

func noiseOf(seconds float64, seed uint64) *heard {
	rng := rand.New(rand.NewPCG(seed, 6))
	x := make([]float64, int(seconds*16000))
	for i := range x {
		x[i] = 0.1 * rng.NormFloat64()
	}
	return &heard{rateHz: 16000, samples: x}
}

func part(h *heard, fromS, toS float64) *heard {
	return &heard{rateHz: h.rateHz, samples: h.samples[int(fromS*h.rateHz):int(toS*h.rateHz)]}
}

func joined(parts ...*heard) *heard {
	out := &heard{rateHz: parts[0].rateHz}
	for _, p := range parts {
		out.samples = append(out.samples, p.samples...)
	}
	return out
}

func TestRefuses(t *testing.T) {
	if testing.Short() {
		t.Skip("it computes for long")
	}
	loud := noiseOf(60, 1)
	once := noiseOf(12, 2)
	constant := &heard{rateHz: 16000, samples: make([]float64, 16000*30)}
	for i := range constant.samples {
		constant.samples[i] = 0.25
	}
	for _, c := range []struct {
		name            string
		camera, session *heard
		want            string
	}{
		{"a camera that recorded nothing", &heard{rateHz: 16000, samples: make([]float64, 16000*30)}, loud, Silent},
		{"nothing but an offset", constant, loud, Silent},
		{"a silent session", loud, &heard{rateHz: 16000, samples: make([]float64, 16000*30)}, Silent},
		{"an empty file", &heard{rateHz: 16000}, loud, TooShort},
		{"three seconds", part(loud, 10, 13), loud, TooShort},
		{"three seconds in common", joined(noiseOf(20, 9), part(loud, 0, 3)), loud, TooShort},
		{"another noise", noiseOf(30, 3), loud, NoMatch},
		{"the same hum", hum(20, 25, 0.003, 4), hum(40, 25, 0.003, 5), NoMatch},
		{"a hum of mains that are a little off", hum(20, 60, 0.001, 6), hum(40, 60.01, 0.001, 7), NoMatch},
		{"pure tones", hum(20, 60, 0, 8), hum(40, 60, 0, 8), NoMatch},
		{"what is heard twice", once, joined(loud, once, loud, once), Ambiguous},
		{"rates of a telephone line", &heard{rateHz: 500, samples: make([]float64, 10000)}, loud, NoMatch},
	} {
		a, err := Find(c.camera.again(), c.session.again())
		if got := code(err); got != c.want {
			t.Errorf("%s: %v (%q), expected %q; %+v", c.name, err, got, c.want, a)
		}
	}
}

// TestBeyondMeasure: no samples, however odd, stop it or are taken for a match.
func TestBeyondMeasure(t *testing.T) {
	loud := noiseOf(20, 1)
	for _, v := range []float64{1e300, -1e300, 1e38, 1e-300, math.MaxFloat64, math.Inf(1), math.NaN()} {
		odd := noiseOf(20, 2)
		for i := 1000; i < len(odd.samples); i += 7919 {
			odd.samples[i] = v
		}
		for _, pair := range [][2]*heard{{odd, loud}, {loud, odd}} {
			if a, err := Find(pair[0].again(), pair[1].again()); code(err) == "" {
				t.Errorf("%g: %v, expected a refusal; %+v", v, err, a)
			}
		}
	}
}

// TestClicks: two sessions in which the same switch clicks the same way, in otherwise different rooms. One
// transient is no proof.
func TestClicks(t *testing.T) {
	click := make([]float64, 800)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range click {
		click[i] = 3 * rng.NormFloat64() * math.Exp(-float64(i)/100)
	}
	with := func(h *heard, atS ...float64) *heard {
		for _, s := range atS {
			for i, v := range click {
				h.samples[int(s*h.rateHz)+i] += v
			}
		}
		return h
	}
	a, err := Find(with(noiseOf(30, 21), 10, 13.5), with(noiseOf(60, 22), 20, 23.5, 40))
	if err == nil {
		t.Errorf("accepted: %+v", a)
	}
}

// TestForms: whatever rates, polarity, clipping and holes.
func TestForms(t *testing.T) {
	if testing.Short() {
		t.Skip("it computes for long")
	}
	h := played(t, scenario(t, "plain", 11))
	for _, rate := range []float64{8000, 11025, 32000, 44100, 96000, 192000} {
		s := shot{seed: uint64(rate), rateHz: rate, offsetS: 5.4321, lastsS: 20, driftPPM: -70, noiseDB: 20}
		camera := film(h, s)
		for i, v := range camera.samples {
			camera.samples[i] = -max(-0.15, min(0.15, v)) // turned round, and overdriven
		}
		a, err := Find(camera, h.again())
		if err != nil {
			t.Errorf("%g Hz: %v", rate, err)
		} else if e := worst(a, s); e > 0.002 {
			t.Errorf("%g Hz: off by %.4f s: %+v", rate, e, a)
		}
	}
}

// holed plays a recording with a hole in it and with jumps of the time base, as anchors of a session make them.
type holed struct {
	*heard
	jumps []float64 // s, by quarter of a minute
}

func (h *holed) Next() (float64, []float64, error) {
	for {
		at, x, err := h.heard.Next()
		if err != nil {
			return 0, nil, err
		}
		if at >= 20 && at < 23 { // nothing came
			continue
		}
		return at + h.jumps[min(len(h.jumps)-1, int(at/15))], x, nil
	}
}

func TestHoles(t *testing.T) {
	h := played(t, scenario(t, "plain", 12))
	s := shot{seed: 3, rateHz: 16000, offsetS: -4, lastsS: h.seconds(), driftPPM: 30, noiseDB: 15, echo: true}
	a, err := Find(film(h, s), &holed{h.again(), []float64{0, 0.0006, -0.0004, 0.0008, 0}})
	if err != nil {
		t.Fatal(err)
	}
	if e := worst(a, s); e > 0.003 || e > a.WithinS {
		t.Errorf("off by %.4f s: %+v", e, a)
	}
}

// TestRecordings films sounds of kitchens and machines that nobody here made. They lie in the folder that
// QUERN_RECORDINGS names.
func TestRecordings(t *testing.T) {
	dir := os.Getenv("QUERN_RECORDINGS")
	if dir == "" {
		dir = "../../../../shared/recordings"
	}
	files, _ := filepath.Glob(filepath.Join(dir, "audio", "kitchen20", "*.wav"))
	more, _ := filepath.Glob(filepath.Join(dir, "audio", "iso532-1", "1*.wav"))
	files = append(files, more...)
	sort.Strings(files)
	if len(files) < 4 {
		t.Skipf("found %d recordings below %s, expected some: name their folder in QUERN_RECORDINGS", len(files), dir)
	}
	// Every recording is a session by itself; all of them, one after the other, another.
	all := &heard{rateHz: 44100}
	var sounds []*heard
	for _, name := range files {
		r := readWAV(t, name)
		if r.rateHz != 44100 { // film brings it to the rate
			r = film(r, shot{rateHz: 44100, lastsS: r.seconds(), noiseDB: 80})
		}
		all.samples = append(all.samples, r.samples...)
		sounds = append(sounds, r)
	}
	s := shot{seed: 1, rateHz: 16000, offsetS: 1.7, lastsS: all.seconds() - 3, driftPPM: 100, noiseDB: 10, echo: true, gain: true}
	a, err := Find(film(all, s), all.again())
	if err != nil {
		t.Errorf("%.1f s of recordings: %v; %+v", all.seconds(), err, a)
	} else if e := worst(a, s); e > 0.005 {
		t.Errorf("off by %.4f s", e)
	}
	found := 0
	for i, x := range sounds {
		if x.seconds() < 4.9 {
			continue
		}
		c := shot{seed: uint64(i), rateHz: 16000, offsetS: -2, lastsS: 12, noiseDB: 20, echo: true}
		camera := film(x, c)
		a, err := Find(camera, x.again())
		if err == nil {
			if found++; worst(a, c) > 0.005 {
				t.Errorf("%s: off by %.4f s", files[i], worst(a, c))
			}
		} else {
			t.Logf("%s: %v", files[i], err)
		}
		for j, y := range sounds {
			if j != i && y.seconds() >= 4.9 {
				if a, err := Find(camera.again(), y.again()); err == nil {
					t.Errorf("%s matches %s: %+v", files[i], files[j], a)
				}
			}
		}
	}
	t.Logf("%d of %d short recordings are found by themselves", found, len(sounds))
}
