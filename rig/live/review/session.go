package review

import (
	"context"
	"sync"

	"quern/rig/report/series"
)

// Session is a sealed session opened for looking at: its series, and analyses of it. It is safe for use by
// several goroutines at once.
type Session struct {
	*series.Session

	slots slots
	ctx   context.Context // ends with Close
	stop  context.CancelFunc
	wait  sync.WaitGroup

	mu       sync.Mutex
	analyses map[string]*analysis // under way or just made, by key
}

func open(dir, cache string, slots slots) (*Session, error) {
	x, err := series.OpenInTurn(dir, cache, slots.derive)
	if err != nil {
		return nil, err
	}
	s := &Session{Session: x, slots: slots, analyses: map[string]*analysis{}}
	s.ctx, s.stop = context.WithCancel(context.Background())
	return s, nil
}

// Close stops what is under way and closes the files. Nothing may be asked afterwards.
func (s *Session) Close() error {
	s.stop()
	s.wait.Wait()
	return s.Session.Close()
}
