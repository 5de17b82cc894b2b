package pcm

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"quern/rig"
)

func write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o755); err != nil {
		t.Fatal(err)
	}
}

// fake returns a card whose recorder is a script, and the folder it stands in. $D is that folder.
func fake(t *testing.T, script string) (*Card, string) {
	t.Helper()
	dir := t.TempDir()
	name := filepath.Join(dir, "recorder")
	write(t, name, "#!/bin/sh\nD='"+dir+"'\necho $$ >$D/pid\n"+script)
	card, err := New(usual(), true, false)
	if err != nil {
		t.Fatal(err)
	}
	card.program = name
	return card, dir
}

func fifo(t *testing.T, name string) {
	t.Helper()
	if err := syscall.Mkfifo(name, 0o600); err != nil {
		t.Fatal(err)
	}
}

const setup = `printf 'Recording raw data\nIts setup is:\n  rate         : 48000\n  exact rate   : 48000 (48000/1)\n  buffer_size  : 9600\n  boundary     : 5404319552844595200\nSlave: x\n  rate         : 44100\n  buffer_size  : 8820\n' >&2
`

// An overrun is placed after what was written before it, although some of that was not read yet. What was
// lost is the time it lasted (arecord's own message) and what stood in the buffer.
func TestOverrun(t *testing.T) {
	for name, c := range map[string]struct {
		said  string
		lost  int64
		xruns int
	}{
		"with state":    {`overrun!!! (at least 12.500 ms long)\nStatus:\n  state       : XRUN\n  delay       : 0\n  avail       : 9608\n  avail_max   : 9608\n`, 600 + 9608, 0},
		"without state": {`overrun!!! (at least 12.500 ms long)\n`, 600 + 9600, 0},
		"two":           {`overrun!!! (at least 12.500 ms long)\noverrun!!! (at least 1.000 ms long)\n`, 648 + 2*9600, 0},
		"clock was set": {`overrun!!! (at least 1700000000000.000 ms long)\n`, 0, 1},
		"clock back":    {`overrun!!! (at least -5.000 ms long)\n`, 0, 1},
		"no length":     {`overrun!!!\n`, 0, 1},
		"suspended":     {`Suspended. Trying resume. Failed. Restarting stream. Done.\n`, 0, 1},
	} {
		t.Run(name, func(t *testing.T) {
			card, dir := fake(t, setup+`head -c 1920 /dev/zero
read x <$D/go1
head -c 200 /dev/zero
printf '`+c.said+`' >&2
echo done >$D/told
read x <$D/go2
printf '\001\000\002\000'
`)
			for _, f := range []string{"go1", "go2", "told"} {
				fifo(t, filepath.Join(dir, f))
			}
			h := newHeard()
			step := 0
			h.after = func() {
				switch n := len(h.samples[rig.Microphone]); {
				case n == 960 && step == 0: // the recorder is held up while the script goes on
					step = 1
					write(t, filepath.Join(dir, "go1"), "\n")
					if _, err := os.ReadFile(filepath.Join(dir, "told")); err != nil {
						t.Error(err)
					}
				case n == 1060 && step == 1:
					step = 2
					write(t, filepath.Join(dir, "go2"), "\n")
				}
			}
			err := card.Run(t.Context(), h)
			if err == nil || !strings.Contains(err.Error(), "arecord ended") {
				t.Errorf("at the end: %v", err)
			}
			got := h.samples[rig.Microphone]
			if len(got) != 1062 || got[1060] != 1.0/32768 || got[1061] != 2.0/32768 {
				t.Fatalf("%d samples, want 1062", len(got))
			}
			for i, start := range h.starts[rig.Microphone] {
				want := int64(0)
				if start == 1060 {
					want = c.lost
				}
				if h.lost[rig.Microphone][i] != want {
					t.Errorf("before sample %d %d are lost, want %d", start, h.lost[rig.Microphone][i], want)
				}
			}
			if h.xruns != c.xruns {
				t.Errorf("%d losses of unknown length, want %d", h.xruns, c.xruns)
			}
		})
	}
}

// The recorder's own words are those of alsa-utils 1.2.8 (its source and this library's own messages, from
// memory but for the first, which TestRealRecorderWithoutCard has from the program).
func TestEnds(t *testing.T) {
	for name, c := range map[string]struct{ script, want string }{
		"no card":     {`echo "arecord: main:831: audio open error: No such file or directory" >&2; exit 1`, "no such card"},
		"busy":        {`echo "arecord: main:831: audio open error: Device or resource busy" >&2; exit 1`, "another program holds"},
		"forbidden":   {`echo "arecord: main:831: audio open error: Permission denied" >&2; exit 1`, "group audio"},
		"pulled":      {`head -c 1001 /dev/zero; echo "arecord: pcm_read:2221: read error: No such device" >&2; exit 1`, "a card that has gone"},
		"broken":      {`head -c 1001 /dev/zero; echo "arecord: pcm_read:2221: read error: Input/output error" >&2; exit 1`, "pull its plug"},
		"format":      {`printf 'arecord: set_params:1352: Sample format non available\nAvailable formats:\n- S24_3LE\n- S32_LE\n' >&2; exit 1`, "S24_3LE, S32_LE"},
		"channels":    {`echo "arecord: set_params:1360: Channels count non available" >&2; exit 1`, "1 channels"},
		"rate":        {`printf 'Warning: rate is not accurate (requested = 48000Hz, got = 44100Hz)\n  rate         : 44100\n  boundary     : 1\n' >&2; exec cat /dev/zero`, "rate_hz = 44100"},
		"mid-frame":   {`head -c 1001 /dev/zero; kill -9 $$`, "signal: killed"},
		"by itself":   {`exit 0`, "without a word"},
		"strange end": {`echo "what is this" >&2; exit 3`, `exit status 3) and said "what is this"`},
	} {
		t.Run(name, func(t *testing.T) {
			card, dir := fake(t, c.script+"\n")
			h := newHeard()
			err := card.Run(t.Context(), h)
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "sound card bench: ") {
				t.Errorf("got %v, want %q", err, c.want)
			}
			if n := len(h.samples[rig.Microphone]); n != 0 && n != 500 {
				t.Errorf("%d samples of 1001 bytes, want 500", n)
			}
			gone(t, dir)
		})
	}
}

// gone checks that the script has been waited for.
func gone(t *testing.T, dir string) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, "pid"))
	if err != nil {
		t.Fatal(err)
	}
	var pid int
	if _, err := fmt.Sscan(string(b), &pid); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Kill(pid, 0); !errors.Is(err, syscall.ESRCH) {
		t.Errorf("process %d is still there: %v", pid, err)
	}
}

func TestNotInstalled(t *testing.T) {
	card, err := New(usual(), true, false)
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", t.TempDir())
	if err := card.Run(t.Context(), newHeard()); err == nil || !strings.Contains(err.Error(), "install alsa-utils") {
		t.Errorf("got %v", err)
	}
}

// Nothing is left when ctx ends: not even of a recorder that does not want to go, is silent, or floods.
func TestCancel(t *testing.T) {
	for name, script := range map[string]string{
		"samples":   "head -c 960 /dev/zero; exec cat /dev/zero",
		"stubborn":  "trap '' TERM; mkfifo $D/never.$$; head -c 960 /dev/zero; read x <$D/never.$$",
		"silent":    "head -c 960 /dev/zero; exec tail -f /dev/null",
		"messages":  "head -c 960 /dev/zero; exec cat /dev/zero >&2",
		"closed":    "head -c 960 /dev/zero; exec 2>&-; exec tail -f /dev/null",
		"overruns":  "head -c 960 /dev/zero; exec yes 'overrun!!! (at least 1.0 ms long)' >&2",
		"grandsons": "head -c 960 /dev/zero; tail --pid=$$ -f /dev/null & exec tail -f /dev/null",
	} {
		t.Run(name, func(t *testing.T) {
			card, dir := fake(t, script+"\n")
			for range 2 { // it may be run again
				files, routines := openFiles(t), runtime.NumGoroutine()
				ctx, cancel := context.WithCancel(t.Context())
				h := newHeard()
				h.after = cancel
				if err := card.Run(ctx, h); err != nil {
					t.Fatal(err)
				}
				gone(t, dir)
				if n := openFiles(t); n > files {
					t.Errorf("%d files open, %d before", n, files)
				}
				for range 1 << 20 { // one that has done its work may not be gone yet
					if runtime.NumGoroutine() <= routines {
						break
					}
					runtime.Gosched()
				}
				if n := runtime.NumGoroutine(); n > routines {
					t.Errorf("%d goroutines, %d before", n, routines)
				}
			}
		})
	}
}

func openFiles(t *testing.T) int {
	t.Helper()
	d, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Skip("no /proc here to count open files")
	}
	return len(d)
}

// Random bytes as messages lose no sample.
func TestGarbageMessages(t *testing.T) {
	card, dir := fake(t, `cat $D/garbage >&2
head -c 96000 /dev/zero
cat $D/garbage >&2
head -c 96000 /dev/zero
`)
	r := rand.New(rand.NewPCG(3, 3))
	g := make([]byte, 300000)
	for i := range g {
		g[i] = byte(r.Uint32())
	}
	write(t, filepath.Join(dir, "garbage"), string(g))
	h := newHeard()
	if err := card.Run(t.Context(), h); err == nil || len(err.Error()) > 2000 {
		t.Errorf("got %v", err)
	}
	if n := len(h.samples[rig.Microphone]); n != 96000 {
		t.Errorf("%d samples, want 96000", n)
	}
}

// The recorder ends with this program, however that ends. The test runs itself as that program, kills it,
// and reads a pipe that the recorder alone holds open until it has gone.
func TestEndsWithProgram(t *testing.T) {
	const name = "QUERN_TEST_PCM_FOLDER"
	if dir := os.Getenv(name); dir != "" {
		card, err := New(usual(), true, false)
		if err != nil {
			t.Fatal(err)
		}
		card.program = filepath.Join(dir, "recorder")
		t.Fatal(card.Run(t.Context(), newHeard()))
	}
	_, dir := fake(t, "exec 3>$D/held\necho here >&3\nread x <$D/never\n")
	fifo(t, filepath.Join(dir, "held"))
	fifo(t, filepath.Join(dir, "never"))
	program := exec.Command(os.Args[0], "-test.run=^TestEndsWithProgram$")
	program.Env = append(os.Environ(), name+"="+dir)
	if err := program.Start(); err != nil {
		t.Fatal(err)
	}
	held, err := os.Open(filepath.Join(dir, "held"))
	if err != nil {
		t.Fatal(err)
	}
	defer held.Close()
	here := make([]byte, 5)
	if _, err := io.ReadFull(held, here); err != nil {
		t.Error(err)
	}
	if err := program.Process.Kill(); err != nil {
		t.Error(err)
	}
	_ = program.Wait() // it was killed
	if err := held.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Error(err)
	}
	if _, err := held.Read(here); err != io.EOF {
		t.Errorf("the recorder lives on: %v", err)
	}
}
