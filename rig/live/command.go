package live

import (
	"context"
	"errors"
	"fmt"

	"quern/config"
	"quern/rig"
)

// Act is something a person asks of the daemon.
type Act string

const (
	Begin   Act = "begin"   // open a session now
	End     Act = "end"     // close the open one
	Mark    Act = "mark"    // note a text at this instant
	Choose  Act = "choose"  // another unit or procedure
	Weigh   Act = "weigh"   // take what the scale shows now
	ToWeigh Act = "expect"  // what is weighed next, and taken by itself
	Drain   Act = "drain"   // leftovers begin to drain now
	Tare    Act = "tare"    // press that key of the scale
	Zero    Act = "zero"    // and that one
	Undo    Act = "undo"    // withdraw the last weighing
	Check   Act = "check"   // an instrument compared with what it should show
	Void    Act = "void"    // a run does not count
	Correct Act = "correct" // anything else that is to stand otherwise
)

// Acts lists all acts.
var Acts = []Act{Begin, End, Mark, Choose, Weigh, ToWeigh, Drain, Tare, Zero, Undo, Check, Void, Correct}

// Ask is an act with what it needs.
type Ask struct {
	Act        Act
	Text       string       // of a mark; the note of a weighing; the reason of an undo
	Who        string       // of a mark, a key and an undo
	Setup      config.Setup // of a choice
	Expect     Expect       // of a weighing, now or next; without a role: what is expected
	Force      bool         // take it although something speaks against it
	Check      rig.Check
	Correction rig.Correction // also of void
}

// Answer is what came of an act: at most one of its fields.
type Answer struct {
	Weighing *WeighingNow
	Expect   *ExpectNow
	Drain    *DrainNow
	OnRecord *OnRecord
}

type request struct {
	ask    Ask
	answer chan answered
}

type answered struct {
	Answer
	err error
}

// Ask does an act in the engine's goroutine, and returns what came of it or what stands against it.
func (e *Engine) Ask(ctx context.Context, a Ask) (Answer, error) {
	if a.Act == Tare || a.Act == Zero { // by whoever asks: a port may hold up a command
		if err := e.press(a); err != nil {
			return Answer{}, err
		}
	}
	r := request{ask: a, answer: make(chan answered, 1)}
	select {
	case e.asked <- r:
	case <-ctx.Done():
		return Answer{}, ctx.Err()
	}
	select {
	case got := <-r.answer:
		return got.Answer, got.err
	case <-ctx.Done():
		return Answer{}, ctx.Err()
	}
}

// Turn ends the session, if one is open, and chooses what is on the bench next: what a tester does between two sessions.
func (e *Engine) Turn(ctx context.Context, next config.Setup) error {
	if e.Now().Session != "" {
		if _, err := e.Ask(ctx, Ask{Act: End, Force: true}); err != nil && ctx.Err() == nil && e.Now().Session != "" {
			return err
		}
	}
	_, err := e.Ask(ctx, Ask{Act: Choose, Setup: next})
	return err
}

func (e *Engine) serve(r request) answered {
	var out answered
	switch a := r.ask; a.Act {
	case Weigh:
		w, err := e.weigh(a)
		out.Weighing, out.err = &w, err
	case ToWeigh:
		x, err := e.expecting(a)
		out.Expect, out.err = &x, err
	case Drain:
		d := e.startDrain()
		out.Drain = &d
	case Undo, Check, Void, Correct:
		on, err := e.putOnRecord(a)
		out.OnRecord, out.err = &on, err
	default:
		out.err = e.turn(a)
	}
	if out.err != nil {
		out.Answer = Answer{}
	}
	return out
}

// putOnRecord keeps what a person says against what was recorded, or checked.
func (e *Engine) putOnRecord(a Ask) (OnRecord, error) {
	switch a.Act {
	case Undo:
		return e.undo(a.Who, a.Text)
	case Check:
		return e.checked(a.Check)
	default:
		return e.correct(a.Correction)
	}
}

// turn begins and ends sessions, marks, notes keys that were pressed, and chooses.
func (e *Engine) turn(a Ask) error {
	switch a.Act {
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
		if e.known.Running && !a.Force {
			return errors.New("the motor runs: switch it off first, or its run is cut in two; force ends the session all the same")
		}
		return e.close("asked for")
	case Mark:
		if e.rec == nil {
			return errors.New("no session is open to hold a mark: begin one, or start the motor")
		}
		return e.remark(a.Text, a.Who)
	case Tare, Zero:
		if e.rec == nil {
			return nil
		}
		return e.remark(pressed(a.Act), a.Who)
	case Choose:
		if e.rec != nil {
			return fmt.Errorf("session %s is open under %s, %s: end it before another unit or procedure is chosen", e.rec.name, e.setup.Unit.ID, e.setup.Procedure.ID)
		}
		e.setup = a.Setup
		e.pan.choose(a.Setup)
		e.rewatch()
	default:
		return fmt.Errorf("no act %q: one of %s", a.Act, words(Acts))
	}
	return nil
}

// remark notes a text in the open session, at this instant.
func (e *Engine) remark(text, who string) error {
	_, err := e.rec.w.AppendRemark(rig.Remark{AtS: max(0, e.sup.NowS()-e.rec.fold.baseS), Run: e.rec.runs, Text: text, Who: who})
	return err
}
