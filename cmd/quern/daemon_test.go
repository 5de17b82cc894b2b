package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"quern/acquire"
	"quern/acquire/pty"
	"quern/rig"
	"quern/rig/live"
	"quern/rig/session"
)

// TestDaemonOnRealPorts runs the program as a process on two serial ports of the kernel, a scale on one and
// a converter board on the other, asks it how it does, tares the scale, and begins and ends a session.
func TestDaemonOnRealPorts(t *testing.T) {
	scale, scaleName := pty.Open(t)
	boardEnd, boardName := pty.Open(t)
	lab := t.TempDir()
	for name, text := range map[string]string{
		"bench.toml": fmt.Sprintf(`name = "ports"
[clamp.device]
kind = "board"
rate_hz = 1000.0
[clamp.device.port]
device = %q
baud = 115200
[clamp.device.board]
counter = "uint16"
samples_per_frame = 20
[scale.device]
kind = "serial"
tare = 'T\r\n'
[scale.device.port]
device = %q
[scale.device.frame]
shape = "mark-kind-number-unit"
`, boardName, scaleName),
		"units.toml":            "[[unit]]\nid = \"unit-a\"\nrated_current_a = 6.0\n",
		"procedures/mixed.toml": "id = \"mixed\"\n",
		"scorecard.toml":        "",
	} {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(lab, name)), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(lab, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	out := filepath.Join(t.TempDir(), "sessions")
	cmd := exec.Command(os.Args[0], "serve", "--lab", lab, "--out", out, "--listen", "127.0.0.1:0")
	cmd.Env = append(os.Environ(), beQuern+"=1")
	stderr, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = cmd.Process.Kill() }()
	var address string
	lines := bufio.NewScanner(stderr)
	for lines.Scan() {
		if m := listens.FindStringSubmatch(lines.Text()); m != nil {
			address = m[1]
			break
		}
	}
	go func() { _, _ = io.Copy(io.Discard, stderr) }()

	// The devices send in real time, as real ones do, until the test ends.
	stop := make(chan struct{})
	defer close(stop)
	go func() {
		begun, frames := time.Now(), 0
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			for ; float64(frames)*0.02 < time.Since(begun).Seconds(); frames++ {
				var b strings.Builder
				fmt.Fprint(&b, frames%65536)
				for k := range 20 {
					fmt.Fprintf(&b, ",%d", int(20*math.Sin(float64(frames*20+k)))) // noise, next to nothing
				}
				if _, err := boardEnd.WriteString(b.String() + "\r\n"); err != nil {
					return
				}
				if frames%5 == 0 {
					if _, err := scale.WriteString("ST,GS,+0002.500kg\r\n"); err != nil {
						return
					}
				}
			}
		}
	}()

	status := func() live.Snapshot {
		b, err := askDaemon("GET", address, "/status", nil)
		if err != nil {
			t.Fatal(err)
		}
		var s live.Snapshot
		if err := json.Unmarshal(b, &s); err != nil {
			t.Fatal(err)
		}
		return s
	}
	waitFor := func(what string, ok func(live.Snapshot) bool) live.Snapshot {
		t.Helper()
		for range 400 {
			if s := status(); ok(s) {
				return s
			}
			<-time.After(25 * time.Millisecond) // the devices are real, and so is their time
		}
		t.Fatalf("%s does not come: %+v", what, status())
		return live.Snapshot{}
	}
	s := waitFor("a bench that is ready", func(s live.Snapshot) bool {
		n := 0
		for _, x := range s.Sources {
			if x.State == acquire.Live {
				n++
			}
		}
		return n == 2 && s.Ready && s.MassG.OK
	})
	if s.MassG.V != 2500 || s.CurrentA.V > 0.2 {
		t.Errorf("the scale shows %v, the clamp %v; want 2500 g and next to nothing", s.MassG, s.CurrentA)
	}
	for _, a := range []live.Asked{{Act: live.Begin}, {Act: live.Mark, Text: "both ports speak"}, {Act: live.Tare}} {
		if _, err := askDaemon("POST", address, "/act", a); err != nil {
			t.Error(err)
		}
	}
	if key, err := bufio.NewReader(scale).ReadString('\n'); err != nil || key != "T\r\n" {
		t.Errorf("the scale was sent %q, %v; want its tare command", key, err)
	}
	waitFor("a second of session", func(s live.Snapshot) bool { return s.AtS.OK && s.AtS.V > 1 })
	if _, err := askDaemon("POST", address, "/act", live.Asked{Act: live.End}); err != nil {
		t.Error(err)
	}
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Errorf("asked to stop, the daemon ended with %v", err)
	}
	dirs, _ := filepath.Glob(filepath.Join(out, "[^.]*"))
	if len(dirs) != 1 {
		t.Fatalf("%d sessions, want 1", len(dirs))
	}
	if problems, err := session.Verify(dirs[0]); err != nil || len(problems) > 0 {
		t.Errorf("%v %v", problems, err)
	}
	ses, err := session.Open(dirs[0])
	if err != nil {
		t.Fatal(err)
	}
	src, err := ses.Source()
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	samples, readings := 0, 0
	for {
		b, err := src.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		samples += len(b.Samples)
		for _, r := range b.Readings {
			if readings++; r.Value != 2500 || r.Stable != rig.Yes {
				t.Fatalf("a reading of %+v, want 2500 g, steady", r)
			}
		}
	}
	if samples < 1000 || readings < 8 { // ten a second; those at either end may lie outside
		t.Errorf("%d samples and %d readings were kept of more than a second", samples, readings)
	}
}

// What a daemon cannot be started with is told before a folder is made.
func TestServeRefusesEarly(t *testing.T) {
	dir := t.TempDir()
	lab, out := filepath.Join(dir, "lab"), filepath.Join(dir, "sessions")
	doneOn(t, "2026-03-01", "lab", lab)
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"--lab", lab, "--unit", "unit-a"}, "bench.toml describes no device"}, // a lab to begin with has none yet
		{[]string{"--simulate", "day", "--unit", "unit-a"}, "the simulated bench plays invented units of its own"},
	} {
		got := on(t, "2026-03-01", append([]string{"serve", "--out", out}, c.args...)...)
		if got.status != 2 || !strings.Contains(got.err, c.says) {
			t.Errorf("%v: got %+v, want %q", c.args, got, c.says)
		}
		if _, err := os.Stat(out); err == nil {
			t.Errorf("%v: left a folder", c.args)
		}
	}
}
