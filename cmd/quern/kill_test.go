package main

import (
	"bufio"
	"encoding/json"
	"io"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"testing"
	"time"

	"quern/rig/live"
	"quern/rig/session"
)

// beQuern makes the test binary act as the program, so that a real process can be killed.
const beQuern = "QUERN_TEST_IS_QUERN"

func TestMain(m *testing.M) {
	if os.Getenv(beQuern) != "" {
		ctx, _ := untilAsked()
		os.Exit(run(ctx, env{args: os.Args[1:], out: os.Stdout, err: os.Stderr, now: time.Now}))
	}
	os.Exit(m.Run())
}

// TestKill kills a recording daemon at random instants: every session recovers, at most a second is lost,
// nothing is corrupt. QUERN_KILLS sets how often.
func TestKill(t *testing.T) {
	n := 5
	if s := os.Getenv("QUERN_KILLS"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	} else if testing.Short() {
		n = 2
	}
	var mu sync.Mutex
	worst, cut := 0.0, 0
	t.Run("kills", func(t *testing.T) {
		for i := range n {
			t.Run(strconv.Itoa(i), func(t *testing.T) {
				t.Parallel()
				lost, was := killOnce(t, rand.New(rand.NewPCG(7, uint64(i))))
				mu.Lock()
				defer mu.Unlock()
				worst = max(worst, lost)
				if was {
					cut++
				}
			})
		}
	})
	t.Logf("%d kills, %d of them into an open session: at most %.2f s lost", n, cut, worst)
}

var listens = regexp.MustCompile(`listen=([0-9.:]+)`)

// startSimulated starts a daemon as a process of its own; its standard error goes on behind the line that says where it
// listens.
func startSimulated(t *testing.T, out string) (cmd *exec.Cmd, stderr io.ReadCloser, address string) {
	t.Helper()
	cmd = exec.Command(os.Args[0], "serve", "--simulate", "stall-and-trip", "--speed", "4", "--out", out, "--listen", "127.0.0.1:0")
	cmd.Env = append(os.Environ(), beQuern+"=1")
	stderr, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(stderr)
	for lines.Scan() {
		if m := listens.FindStringSubmatch(lines.Text()); m != nil {
			return cmd, stderr, m[1]
		}
	}
	t.Fatal("the daemon does not say where it listens")
	return nil, nil, ""
}

func statusOf(t *testing.T, address string) (s live.Snapshot) {
	t.Helper()
	resp, err := http.Get("http://" + address + "/status")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = resp.Body.Close() }()
	if err := json.NewDecoder(resp.Body).Decode(&s); err != nil {
		t.Fatal(err)
	}
	return s
}

// A log that nobody reads any more, as when a pipe's other end has gone, ends no recording.
func TestDaemonOutlivesItsLog(t *testing.T) {
	cmd, stderr, address := startSimulated(t, filepath.Join(t.TempDir(), "sessions"))
	defer func() { _, _ = cmd.Process.Kill(), cmd.Wait() }()
	if err := stderr.Close(); err != nil {
		t.Fatal(err)
	}
	for len(statusOf(t, address).Events) < 2 { // the first is a line of the log by then
		<-time.After(5 * time.Millisecond)
	}
}

// killOnce returns how much of the session was lost, in seconds of the bench, and whether one was open.
func killOnce(t *testing.T, r *rand.Rand) (lostS float64, open bool) {
	t.Helper()
	out := filepath.Join(t.TempDir(), "sessions")
	cmd, stderr, address := startSimulated(t, out)
	go func() { _, _ = io.Copy(io.Discard, stderr) }()
	// The instants are random in the daemon's own time: its status is asked until they have come.
	until := r.Float64() * 45
	var s live.Snapshot
	for {
		s = statusOf(t, address)
		<-time.After(5 * time.Millisecond) // the process is real, and so is its time
		if s.AtS.OK && s.AtS.V >= until || !s.AtS.OK && s.Sessions > 0 {
			break
		}
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait() // killed

	recovered, err := live.RecoverAll(out, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	all, err := filepath.Glob(filepath.Join(out, "[^.]*"))
	if err != nil || len(all) == 0 {
		t.Fatalf("no session is left: %v", err)
	}
	for _, dir := range all {
		if problems, err := session.Verify(dir); err != nil || len(problems) > 0 {
			t.Errorf("%s: %v %v", dir, problems, err)
		}
	}
	if s.Session == "" || len(recovered) == 0 {
		return 0, false
	}
	ses, err := session.Open(recovered[0])
	if err != nil {
		t.Fatal(err)
	}
	end := 0.0
	for _, w := range ses.Warnings() {
		if w.Code == "cut-off" {
			m := regexp.MustCompile(`at ([0-9.]+) s`).FindStringSubmatch(w.Text)
			end, _ = strconv.ParseFloat(m[1], 64)
		}
	}
	if lostS = s.AtS.V - end; lostS > 1 {
		t.Errorf("the daemon had come to %.2f s, the recovered session ends at %.2f s", s.AtS.V, end)
	}
	return max(0, lostS), true
}
