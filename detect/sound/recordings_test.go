package sound

import (
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// recordings is the folder of real recordings that are kept beside the checkout, not in it.
func recordings(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("QUERN_RECORDINGS")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "recordings")
	}
	if _, err := os.Stat(filepath.Join(dir, "levels.csv")); err != nil {
		t.Skipf("no recordings in %s: set QUERN_RECORDINGS to their folder", dir)
	}
	return dir
}

// samples reads one channel of a WAV file: the little that these tests need, not the program's reader.
func samples(t *testing.T, file string, channel int) (x []float64, rate float64) {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	le := binary.LittleEndian
	var format, channels, bits int
	for at := 12; at+8 <= len(b); {
		id, size := string(b[at:at+4]), int(le.Uint32(b[at+4:]))
		body := b[at+8 : min(len(b), at+8+size)]
		switch id {
		case "fmt ":
			format, channels, bits = int(le.Uint16(body)), int(le.Uint16(body[2:])), int(le.Uint16(body[14:]))
			rate = float64(le.Uint32(body[4:]))
			if format == 0xfffe {
				format = int(le.Uint16(body[24:]))
			}
		case "data":
			width := (bits + 7) / 8
			for i := (channel - 1) * width; i+width <= len(body); i += width * channels {
				var v float64
				switch {
				case format == 3 && bits == 32:
					v = float64(math.Float32frombits(le.Uint32(body[i:])))
				case format == 3:
					v = math.Float64frombits(le.Uint64(body[i:]))
				case bits == 8:
					v = (float64(body[i]) - 128) / 128
				default:
					var w uint32
					for k := range width {
						w |= uint32(body[i+k]) << (32 - 8*width + 8*k)
					}
					v = float64(int32(w)) / (1 << 31)
				}
				x = append(x, v)
			}
			return x, rate
		}
		at += 8 + size + size%2
	}
	t.Fatalf("%s: no data", file)
	return nil, 0
}

// Real recordings against levels that one transform over the whole file and the analytic weighting
// give (levels.csv, its own remark says how).
func TestRecordings(t *testing.T) {
	dir := recordings(t)
	f, err := os.Open(filepath.Join(dir, "levels.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, n := range rows[0] {
		column[n] = i
	}
	worstA, worstC, worstF := 0.0, 0.0, 0.0
	for _, r := range rows[1:] {
		get := func(c string) float64 {
			v, err := strconv.ParseFloat(r[column[c]], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		channel := int(get("channel"))
		x, rate := samples(t, filepath.Join(dir, r[0]), channel)
		if rate != get("fs_hz") || len(x) != int(get("samples")) {
			t.Fatalf("%s: read %d samples at %g Hz, want %g at %g Hz", r[0], len(x), rate, get("samples"), get("fs_hz"))
		}
		l := hear(t, rate, x, 0).levels(0)
		dbfs := func(level float64) float64 { return level - fs120 - 10*math.Log10(2) }
		a, c, fm := dbfs(l.laeq)-get("LAeq_dbfs"), dbfs(l.lceq)-get("LCeq_dbfs"), dbfs(l.lafmax)-get("LAFmax_dbfs")
		name := fmt.Sprintf("%s channel %d", r[0], channel)
		t.Logf("%s (%.2f s): LAeq %+.3f, LCeq %+.3f, LAFmax %+.3f dB, rms %+.3f", name, get("duration_s"), a, c, fm, dbfs(l.lzeq)-get("rms_dbfs"))
		near(t, name+": rms", dbfs(l.lzeq), get("rms_dbfs"), 0.001)
		if get("duration_s") >= 1 {
			near(t, name+": LAeq", a, 0, 0.03)
			near(t, name+": LCeq", c, 0, 0.03)
			near(t, name+": LAFmax", fm, 0, 0.05)
			worstA, worstC, worstF = max(worstA, math.Abs(a)), max(worstC, math.Abs(c)), max(worstF, math.Abs(fm))
		}
	}
	t.Logf("largest difference in recordings of a second and more: LAeq %.3f, LCeq %.3f, LAFmax %.3f dB", worstA, worstC, worstF)
}
