package sound

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"
)

// python returns a Python that has scipy.
func python(t *testing.T) string {
	t.Helper()
	for _, p := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(p, "-c", "import scipy.signal").Run() == nil {
			return p
		}
	}
	t.Skip("no python3 with scipy: install Debian's python3-scipy")
	return ""
}

// The meter against an independent program: deploy/reference_levels.py, which transforms whole files
// and filters with Butterworth filters.
func TestAgainstReferenceProgram(t *testing.T) {
	const seconds = 9
	py := python(t)
	for _, rate := range []float64{8000, 44100, 48000, 96000} {
		// Invented: pink-like noise, a hum with harmonics inside the bands, and loud bursts, faded in and out.
		r := rand.New(rand.NewPCG(11, 12))
		x := make([]float64, int(seconds*rate))
		var low [3]float64
		for i := range x {
			s := float64(i) / rate
			v := r.NormFloat64()
			low[0] += (1 - math.Exp(-2*math.Pi*40/rate)) * (v - low[0])
			low[1] += (1 - math.Exp(-2*math.Pi*400/rate)) * (v - low[1])
			low[2] += (1 - math.Exp(-2*math.Pi*2000/rate)) * (v - low[2])
			x[i] = 0.3*low[0] + 0.1*low[1] + 0.05*low[2] + 0.004*v
			for h := 1.0; h < 7; h++ {
				x[i] += 0.01 / h * math.Sin(2*math.Pi*126*h*s+h*h)
			}
			if at := math.Mod(s-5, 7); s > 5 && at < 0.2 {
				x[i] *= 1 + 5*math.Sin(math.Pi*at/0.2)
			}
			x[i] *= min(1, 2*s, 2*(seconds-s))
		}
		var in bytes.Buffer
		if err := binary.Write(&in, binary.LittleEndian, x); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(py, "../../deploy/reference_levels.py", fmt.Sprint(rate), fmt.Sprint(fs120))
		var stderr bytes.Buffer
		cmd.Stdin, cmd.Stderr = &in, &stderr
		b, err := cmd.Output()
		if err != nil {
			t.Fatalf("%v: %s", err, stderr.Bytes())
		}
		var want struct {
			LAeq   float64 `json:"laeq_db"`
			LCeq   float64 `json:"lceq_db"`
			LZeq   float64 `json:"lzeq_db"`
			LAFmax float64 `json:"lafmax_db"`
			LCpeak float64 `json:"lcpeak_db"`
			Bands  []struct {
				MidHz       float64 `json:"mid_hz"`
				FFT         float64 `json:"fft_db"`
				Butterworth float64 `json:"butterworth_db"`
			} `json:"bands"`
		}
		if err := json.Unmarshal(b, &want); err != nil {
			t.Fatal(err)
		}
		h := hear(t, rate, x, 0)
		l := h.levels(0)
		name := fmt.Sprintf("%g Hz: ", rate)
		near(t, name+"LAeq", l.laeq, want.LAeq, 0.03)
		near(t, name+"LCeq", l.lceq, want.LCeq, 0.03)
		near(t, name+"LZeq", l.lzeq, want.LZeq, 0.001)
		near(t, name+"LAFmax", l.lafmax, want.LAFmax, 0.04)
		near(t, name+"LCpeak", l.lcpeak, want.LCpeak, 0.1)
		if len(want.Bands) == 0 {
			t.Fatal("no bands from the reference")
		}
		got := h.bandLevels(0)
		var worst [2]float64
		for i, b := range want.Bands {
			// The three filters differ in the slopes of their edges, so noise and tones beside an edge
			// count differently: statistically by about 4.34 dB/sqrt(BT).
			lower, upper := EdgesHz(i)
			within := 0.05 + 6/math.Sqrt((upper-lower)*seconds)
			near(t, fmt.Sprintf("%sband %g Hz against the transform", name, NominalHz[i]), got[i], b.FFT, within)
			near(t, fmt.Sprintf("%sband %g Hz against Butterworth", name, NominalHz[i]), got[i], b.Butterworth, within+0.3)
			worst[0], worst[1] = max(worst[0], math.Abs(got[i]-b.FFT)), max(worst[1], math.Abs(got[i]-b.Butterworth))
		}
		t.Logf("%sLAeq %+.3f, LCeq %+.3f, LAFmax %+.3f, LCpeak %+.3f dB; bands within %.2f dB of the transform, %.2f of Butterworth",
			name, l.laeq-want.LAeq, l.lceq-want.LCeq, l.lafmax-want.LAFmax, l.lcpeak-want.LCpeak, worst[0], worst[1])
	}
}
