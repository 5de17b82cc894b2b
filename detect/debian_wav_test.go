package detect_test

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"testing"

	"quern/rig"
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

// TestLevelsOfDebianSounds holds the fold to deploy/reference_levels.py, which transforms the whole file,
// on spoken words and noise that come with Debian. A made clamp says the motor was on.
func TestLevelsOfDebianSounds(t *testing.T) {
	const dir = "/usr/share/sounds/alsa/"
	if _, err := os.Stat(dir + "Front_Center.wav"); err != nil {
		t.Skipf("no %sFront_Center.wav: install Debian's alsa-utils", dir)
	}
	py := python(t)
	for _, name := range []string{"Front_Center.wav", "Rear_Left.wav", "Noise.wav"} {
		if _, err := os.Stat(dir + name); err != nil {
			t.Logf("no %s%s in this version of the package", dir, name)
			continue
		}
		set := setup()
		src := &takes{cutMic: 5000, cutCur: 800, curHz: 8000}
		src.mic, src.micHz = samples(t, dir+name, 1)
		for i := range int(src.curHz * float64(len(src.mic)) / src.micHz) {
			src.clamp = append(src.clamp, 6*math.Sin(2*math.Pi*60*float64(i)/src.curHz))
		}
		var in bytes.Buffer
		if err := binary.Write(&in, binary.LittleEndian, src.mic); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(py, "../deploy/reference_levels.py", fmt.Sprint(src.micHz), fmt.Sprint(set.Bench.Microphone.FullScaleDB))
		var stderr bytes.Buffer
		cmd.Stdin, cmd.Stderr = &in, &stderr
		b, err := cmd.Output()
		if err != nil {
			t.Fatalf("%v: %s", err, stderr.Bytes())
		}
		var want map[string]any
		if err := json.Unmarshal(b, &want); err != nil {
			t.Fatal(err)
		}
		res := analyse(t, src, set)
		if len(res.Runs) != 1 {
			t.Errorf("%s: %d runs, want one over the whole file: %v", name, len(res.Runs), res.Warnings)
			continue
		}
		s := res.Runs[0].Sound
		for _, c := range []struct {
			key      string
			got      rig.Figure
			withinDB float64
		}{{"laeq_db", s.LAeqDB, 0.03}, {"lceq_db", s.LCeqDB, 0.03}, {"lafmax_db", s.LAFmaxDB, 0.05}, {"lcpeak_db", s.LCpeakDB, 0.1}} {
			w, ok := want[c.key].(float64)
			if !ok {
				t.Fatalf("the reference says nothing of %s: %s", c.key, b)
			}
			t.Logf("%s: %s %.2f, off by %+.3f dB", name, c.key, c.got.V, c.got.V-w)
			if !c.got.OK || !(math.Abs(c.got.V-w) <= c.withinDB) {
				t.Errorf("%s: %s = %+v, want %.3f within %g dB", name, c.key, c.got, w, c.withinDB)
			}
		}
	}
}
