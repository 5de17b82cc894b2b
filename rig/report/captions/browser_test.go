package captions

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// page plays a clip with both tracks, seeks to an instant, and sends back what the browser made of them as JSON.
const page = `<!doctype html><meta charset="utf-8"><title>tracks</title>
<body style="margin:10px;background:#888"><video id="v" muted width="640" height="360" src="clip.webm">
<track id="c" kind="captions" srclang="en" src="captions.vtt" default><track id="k" kind="chapters" srclang="en" src="chapters.vtt">
</video>
<script>
const el = (id) => document.getElementById(id);
const faults = [];
const loaded = (t) => new Promise((done) => {
  t.track.mode = "showing";
  t.addEventListener("load", done);
  t.addEventListener("error", () => { faults.push(t.id); done(); });
});
const list = (t) => [...t.track.cues].map((q) => [q.startTime, q.endTime, q.text]);
Promise.all([loaded(el("c")), loaded(el("k"))]).then(() => {
  el("v").addEventListener("seeked", () => setTimeout(() => {
    const said = JSON.stringify({ faults, captions: list(el("c")), chapters: list(el("k")),
      active: [...el("c").track.activeCues].map((q) => q.text), at: el("v").currentTime });
    fetch("/said", { method: "POST", body: said });
  }, 300));
  el("v").currentTime = 26;
});
</script>`

// TestPlayed has Chromium play the tracks: it must read every cue, and show the right one.
func TestPlayed(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser takes long")
	}
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium: tracks are not played")
	}
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("no ffmpeg: there is no clip to play")
	}
	dir := t.TempDir()
	if b, err := exec.Command(ffmpeg, "-nostdin", "-loglevel", "error", "-f", "lavfi", "-i", "testsrc2=size=320x180:rate=5:duration=112",
		"-c:v", "libvpx", "-deadline", "realtime", "-cpu-used", "8", filepath.Join(dir, "clip.webm")).CombinedOutput(); err != nil {
		t.Skipf("ffmpeg makes no clip: %v: %s", err, b)
	}
	s := shown()
	s.Unit = "a <b>unit</b> & more" // what has to be escaped comes back as it was
	for name, text := range map[string]string{"captions.vtt": text(t, func(b *bytes.Buffer) error { return s.CaptionsVTT(b) }),
		"chapters.vtt": text(t, func(b *bytes.Buffer) error { return s.ChaptersVTT(b) }), "index.html": page} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	told := make(chan []byte, 1)
	mux := http.NewServeMux()
	mux.Handle("GET /", http.FileServer(http.Dir(dir)))
	mux.HandleFunc("POST /said", func(_ http.ResponseWriter, r *http.Request) {
		if b, err := io.ReadAll(r.Body); err == nil {
			select {
			case told <- b:
			default: // it said so already
			}
		}
	})
	server := httptest.NewServer(mux)
	defer server.Close()
	args := []string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--window-size=680,480"}
	if picture := os.Getenv("QUERN_PICTURES"); picture != "" { // for the eye
		b, err := exec.Command(chromium, append(args, "--user-data-dir="+t.TempDir(), "--timeout=8000", "--screenshot="+filepath.Join(picture, "tracks.png"), server.URL)...).CombinedOutput()
		t.Logf("%v: %s", err, b)
	}
	profile, err := os.MkdirTemp("", "captions-chromium-")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), chromium, append(args, "--user-data-dir="+profile, "--remote-debugging-port=0", server.URL)...) // with the port it stays open
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) // with all its children
		_ = cmd.Wait()
		_ = os.RemoveAll(profile) // a child may still write there
	}()
	var answer []byte
	select {
	case answer = <-told:
	case <-time.After(2 * time.Minute):
		t.Fatal("the browser says nothing in two minutes")
	}
	var said struct {
		Faults   []string
		Captions [][3]any
		Chapters [][3]any
		Active   []string
		At       float64
	}
	if err := json.Unmarshal(answer, &said); err != nil {
		t.Fatalf("%v: %s", err, answer)
	}
	t.Logf("%d captions, %d chapters; at %g s %q", len(said.Captions), len(said.Chapters), said.At, said.Active)
	if len(said.Faults) > 0 {
		t.Errorf("the browser refuses %v", said.Faults)
	}
	for _, c := range []struct {
		name string
		got  [][3]any
		want []Cue
	}{{"captions", said.Captions, s.Cues()}, {"chapters", said.Chapters, s.Chapters()}} {
		if len(c.got) != len(c.want) {
			t.Fatalf("%d %s, expected %d", len(c.got), c.name, len(c.want))
		}
		for i, w := range inMillis(c.want) {
			got := fmt.Sprintf("%.3f %.3f %s", c.got[i][:]...)
			plain := strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(strings.Join(w.lines, "\n"))
			if want := fmt.Sprintf("%.3f %.3f %s", float64(w.from)/1000, float64(w.to)/1000, plain); got != want {
				t.Errorf("%s: %q, expected %q", c.name, got, want)
			}
		}
	}
	if said.At != 26 || (len(said.Active) != 1 || !strings.HasPrefix(said.Active[0], "Stall")) {
		t.Errorf("at 26 s %q are shown, expected the stall", said.Active)
	}
}
