package live

import (
	"context"
	"fmt"
	"net"
	"strconv"
	"strings"
	"time"
)

// Notifier tells a service supervisor how the daemon does, by the datagram protocol of sd_notify: READY,
// STATUS, WATCHDOG, STOPPING. Without a socket it does nothing.
type Notifier struct {
	path     string
	watchdog time.Duration
}

// NewNotifier reads NOTIFY_SOCKET and WATCHDOG_USEC through getenv.
func NewNotifier(getenv func(string) string) Notifier {
	n := Notifier{path: getenv("NOTIFY_SOCKET")}
	if us, err := strconv.ParseInt(getenv("WATCHDOG_USEC"), 10, 64); err == nil && us > 0 {
		n.watchdog = time.Duration(us) * time.Microsecond
	}
	return n
}

// Send sends one message of lines NAME=value.
func (n Notifier) Send(lines ...string) error {
	if n.path == "" {
		return nil
	}
	path := n.path
	if strings.HasPrefix(path, "@") {
		path = "\x00" + path[1:]
	}
	c, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		return fmt.Errorf("the supervisor's socket %s: %w", n.path, err)
	}
	defer c.Close()
	_, err = c.Write([]byte(strings.Join(lines, "\n")))
	return err
}

// Keep says READY, then feeds the watchdog while the engine turns, until ctx ends.
func (n Notifier) Keep(ctx context.Context, e *Engine) error {
	if n.path == "" {
		return nil
	}
	if err := n.Send("READY=1", "STATUS="+e.Now().Say); err != nil {
		return err
	}
	every := 5 * time.Second
	if n.watchdog > 0 {
		every = min(every, n.watchdog/3)
	}
	t := time.NewTicker(every)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return n.Send("STOPPING=1")
		case <-t.C:
			if err := e.healthy(); err != nil {
				if err := n.Send("STATUS=" + err.Error()); err != nil {
					return err
				}
				continue // the supervisor restarts a daemon that hangs
			}
			lines := []string{"STATUS=" + e.Now().Say}
			if n.watchdog > 0 {
				lines = append(lines, "WATCHDOG=1")
			}
			if err := n.Send(lines...); err != nil {
				return err
			}
		}
	}
}
