package session

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/wave"
)

// cutOff records half a second of noise and a second from a microphone that gives nothing but zeros, syncs each,
// then takes 0.1 s more that nothing syncs, and returns the folder as it stood at that instant, with what was synced.
func cutOff(t *testing.T, enc wave.Encoding) (dir string, synced []float64) {
	t.Helper()
	made := filepath.Join(t.TempDir(), "s")
	head := testHead(Stream{microphone, enc}, Stream{scale, 0})
	head.Live = true
	w, err := Create(made, head)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := w.Close(); err != nil {
			t.Error(err)
		}
	}()
	r := noise(4000)
	for i, x := range [][]float64{r, make([]float64, 8000), r[:800]} {
		at := float64(len(synced)) / microphone.RateHz
		if err := w.AppendBlock(rig.Block{Channel: rig.Microphone, StartS: at, Samples: x}); err != nil {
			t.Fatal(err)
		}
		if err := w.AppendReading(rig.Scale, rig.Reading{AtS: at, Value: 7}); err != nil {
			t.Fatal(err)
		}
		if i == 2 {
			break
		}
		synced = append(synced, x...)
		if err := w.Sync(); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.tracks[0].wave.Flush(); err != nil { // as when a buffer is full
		t.Fatal(err)
	}
	dir = filepath.Join(t.TempDir(), "s")
	if err := os.CopyFS(dir, os.DirFS(made)); err != nil {
		t.Fatal(err)
	}
	return dir, synced
}

// noise is samples that every encoding holds and whose bytes are not zeros, but for what 16 bits do not need.
func noise(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = float64(0x0101*(1+(i*37)%100)) / 32768
	}
	return out
}

func lengthen(t *testing.T, name string, more []byte) {
	t.Helper()
	f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY, 0)
	if err == nil {
		_, err = f.Write(more)
	}
	if err == nil {
		err = f.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
}

// A file system can leave files longer than what was written, with zeros for the rest. They are no samples and no
// lines; the zeros that a dead microphone delivered and a sync made last are.
func TestZerosThatNobodyRecorded(t *testing.T) {
	for _, enc := range []wave.Encoding{wave.PCM16, wave.PCM24, wave.PCM32, wave.Float32, wave.Float64} {
		for _, zeros := range []struct{ journal, recording int }{{0, 0}, {1, 0}, {4096, 0}, {0, 1}, {0, 1024}, {0, 4097}, {0, 65535}, {1500, 65536}} {
			t.Run(fmt.Sprintf("%v %v", enc, zeros), func(t *testing.T) {
				dir, synced := cutOff(t, enc)
				recording := filepath.Join(dir, "recordings", "microphone.wav")
				lengthen(t, recording, make([]byte, zeros.recording))
				lengthen(t, filepath.Join(dir, journalName), make([]byte, zeros.journal))
				before, err := os.ReadFile(recording)
				if err != nil {
					t.Fatal(err)
				}
				check := func(when string, torn bool) {
					s, out := replay(t, dir)
					got := gather(rates([]rig.Stream{microphone, scale}), out)
					if !slices.Equal(got[rig.Microphone].samples, synced) || len(got[rig.Scale].readings) != 2 {
						t.Errorf("%s: %d samples and %d readings, want the %d and 2 that were synced", when,
							len(got[rig.Microphone].samples), len(got[rig.Scale].readings), len(synced))
					}
					if has := slices.Contains(codes(s.Warnings()), "microphone-torn"); has != torn {
						t.Errorf("%s: warnings %v", when, s.Warnings())
					}
				}
				check("interrupted", true)
				if err := Seal(dir); err != nil {
					t.Fatal(err)
				}
				check("recovered", false)
				kept, err := os.ReadFile(recording)
				aside, err2 := os.ReadFile(recording + ".torn-1")
				if err != nil || err2 != nil || !bytes.Equal(before, append(kept, aside...)) {
					t.Errorf("%d bytes are kept and %d set aside of %d (%v, %v)", len(kept), len(aside), len(before), err, err2)
				}
				s, err := Open(dir)
				if err != nil || !strings.Contains(fmt.Sprint(s.Warnings()), "s of recordings/microphone.wav, which no sync had made last, stand in recordings/microphone.wav.torn-1") {
					t.Errorf("%v does not say where its end stands (%v)", s.Warnings(), err)
				}
				if problems, err := Verify(dir); err != nil || len(problems) > 0 {
					t.Errorf("Verify: %v, %v", problems, err)
				}
			})
		}
	}
}

// The power goes at every operation of a recovery: no byte of the recording is lost, and the next recovery ends well.
func TestCrashInRecoveryOfRecordings(t *testing.T) {
	made, synced := cutOff(t, wave.PCM16)
	lengthen(t, filepath.Join(made, "recordings", "microphone.wav"), make([]byte, 5001))
	for n := 0; ; n++ {
		dir := filepath.Join(t.TempDir(), "s")
		if err := os.CopyFS(dir, os.DirFS(made)); err != nil {
			t.Fatal(err)
		}
		d := &failing{left: n}
		if _, err := recoverOn(d, dir); d.gone == (err == nil) {
			t.Fatalf("operation %d: got %v, power gone %v", n, err, d.gone)
		}
		if err := Seal(dir); err != nil {
			t.Fatalf("operation %d: %v", n, err)
		}
		kept, err := os.ReadFile(filepath.Join(dir, "recordings", "microphone.wav"))
		aside, err2 := os.ReadFile(filepath.Join(dir, "recordings", "microphone.wav.torn-1"))
		if err != nil || err2 != nil || len(aside) != 2*800+5001 || aside[0] == 0 || aside[len(aside)-1] != 0 {
			t.Fatalf("operation %d: %d bytes kept, %d set aside (%v, %v)", n, len(kept), len(aside), err, err2)
		}
		_, out := replay(t, dir)
		if got := gather(rates([]rig.Stream{microphone}), out)[rig.Microphone].samples; !slices.Equal(got, synced) {
			t.Fatalf("operation %d: %d samples, want %d", n, len(got), len(synced))
		}
		if problems, err := Verify(dir); err != nil || len(problems) > 0 {
			t.Fatalf("operation %d: %v, %v", n, problems, err)
		}
		if !d.gone {
			return
		}
	}
}

// A disk that says it has made last what it has not loses the last stretches too. Those before them prove themselves.
func TestSyncThatDidNotLast(t *testing.T) {
	dir, synced := cutOff(t, wave.PCM16)
	recording := filepath.Join(dir, "recordings", "microphone.wav")
	text, err := os.ReadFile(recording)
	if err != nil {
		t.Fatal(err)
	}
	first := len(text) - 2*(8000+800) // where the second stretch begins
	for _, test := range []struct {
		name string
		from int // first byte that is not as it was written
		to   int
		want int // samples
	}{
		{"all there", len(text), len(text), len(synced)},
		{"shorter than was synced", len(text) - 2*900, -1, 4000},
		{"the last byte of the last stretch", len(text) - 2*800 - 1, len(text) - 2*800, 4000},
		{"within the first", first - 3, first - 2, len(synced)}, // inside, not at the end: only Verify could tell
		{"both", first - 3, len(text), 0},
	} {
		now := slices.Clone(text)
		if test.to < 0 {
			now = now[:test.from]
		} else {
			for i := test.from; i < test.to; i++ {
				now[i] ^= 0x55
			}
		}
		if err := os.WriteFile(recording, now, 0o644); err != nil {
			t.Fatal(err)
		}
		_, out := replay(t, dir)
		n := 0
		if got := gather(rates([]rig.Stream{microphone}), out)[rig.Microphone]; got != nil {
			n = len(got.samples)
		}
		if n != test.want {
			t.Errorf("%s: %d samples, want %d", test.name, n, test.want)
		}
	}
}

// A session whose journal says nothing of syncs, as those of earlier versions, is read to its end.
func TestJournalWithoutSyncs(t *testing.T) {
	dir, synced := cutOff(t, wave.PCM16)
	name := filepath.Join(dir, journalName)
	text, err := os.ReadFile(name)
	if err != nil || bytes.Count(text, []byte(syncedPrefix)) != 3 {
		t.Fatalf("%v\n%s", err, text)
	}
	var old []byte
	var batch []byte
	lines := 0
	for l := range bytes.Lines(text) {
		switch {
		case bytes.HasPrefix(l, []byte(batchPrefix)):
			old = append(old, appendBatchLine(batch, lines, crc32.Checksum(batch, castagnoli))...)
			batch, lines = nil, 0
		case !bytes.HasPrefix(l, []byte(syncedPrefix)):
			batch, lines = append(batch, l...), lines+1
		}
	}
	if err := os.WriteFile(name, old, 0o644); err != nil {
		t.Fatal(err)
	}
	s, out := replay(t, dir)
	if got := len(gather(rates([]rig.Stream{microphone}), out)[rig.Microphone].samples); got != len(synced)+800 {
		t.Errorf("%d samples, want all %d; %v", got, len(synced)+800, s.Warnings())
	}
}
