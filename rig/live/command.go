package live

import (
	"context"
	"errors"
	"fmt"

	"quern/config"
)

// Act is something a person asks of the daemon.
type Act string

const (
	Begin  Act = "begin"  // open a session now
	End    Act = "end"    // close the open one
	Mark   Act = "mark"   // note a text at this instant
	Choose Act = "choose" // another unit or procedure
)

// Ask is an act with what it needs.
type Ask struct {
	Act   Act
	Text  string       // of a mark
	Setup config.Setup // of a choice
}

type request struct {
	ask    Ask
	answer chan error
}

// Do does an act in the engine's goroutine, and returns what stands against it.
func (e *Engine) Do(ctx context.Context, a Ask) error {
	r := request{ask: a, answer: make(chan error, 1)}
	select {
	case e.asked <- r:
	case <-ctx.Done():
		return ctx.Err()
	}
	select {
	case err := <-r.answer:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (e *Engine) serve(r request) error {
	switch r.ask.Act {
	case Begin:
		if e.rec != nil {
			return fmt.Errorf("session %s is open: end it first", e.rec.name)
		}
		e.open(e.sup.NowS(), "asked for")
		if e.rec == nil {
			return errors.New("no session could be opened: see the daemon's fault in quern status")
		}
		e.rec.asked = true
	case End:
		if e.rec == nil {
			return errors.New("no session is open")
		}
		return e.close("asked for")
	case Mark:
		if e.rec == nil {
			return errors.New("no session is open to hold a mark: begin one, or start the motor")
		}
		return e.rec.w.AppendMark(max(0, e.sup.NowS()-e.rec.fold.baseS), e.rec.runs, r.ask.Text)
	case Choose:
		if e.rec != nil {
			return fmt.Errorf("session %s is open under %s, %s: end it before another unit or procedure is chosen", e.rec.name, e.setup.Unit.ID, e.setup.Procedure.ID)
		}
		e.setup = r.ask.Setup
		e.rewatch()
	default:
		return fmt.Errorf("no act %q: begin, end, mark or choose", r.ask.Act)
	}
	return nil
}
