package live

import (
	"context"
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The service supervisor's end is a real datagram socket.
func TestNotify(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	l, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	n := NewNotifier(func(k string) string {
		return map[string]string{"NOTIFY_SOCKET": path, "WATCHDOG_USEC": "150000"}[k]
	})
	d, src := simulatedSource(t, light(t, "plain"))
	b := start(t, d.Setup(), nil, src)
	defer b.stop()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- n.Keep(ctx, b.engine) }()
	if err := l.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Fatal(err)
	}
	next := func() string {
		buf := make([]byte, 4096)
		k, err := l.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		return string(buf[:k])
	}
	if m := next(); !strings.HasPrefix(m, "READY=1\nSTATUS=") {
		t.Errorf("first message %q", m)
	}
	for range 3 {
		if m := next(); !strings.Contains(m, "WATCHDOG=1") || !strings.Contains(m, "STATUS=") {
			t.Errorf("the watchdog is fed with %q", m)
		}
	}
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
	last := ""
	for !strings.Contains(last, "STOPPING=1") {
		last = next()
	}
	none := NewNotifier(func(string) string { return "" })
	if err := none.Keep(t.Context(), b.engine); err != nil {
		t.Errorf("without a supervisor: %v", err)
	}
	lost := NewNotifier(func(k string) string { return map[string]string{"NOTIFY_SOCKET": path + "-gone"}[k] })
	if err := lost.Keep(t.Context(), b.engine); err == nil || !strings.Contains(err.Error(), "-gone") {
		t.Errorf("a socket that is not there: %v", err)
	}
}
