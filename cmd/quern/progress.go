package main

import (
	"context"
	"fmt"

	"quern/rig"
)

// progress shows on a terminal how far a long piece of work is; in a pipe it shows nothing.
type progress struct {
	e    env
	of   int
	what string
	n    int
}

func (p *progress) step() {
	p.n++
	if p.e.terminal && p.of > 1 {
		fmt.Fprintf(p.e.err, "\r%d of %d %s", p.n, p.of, p.what)
	}
}

func (p *progress) done() {
	if p.e.terminal && p.of > 1 && p.n > 0 {
		fmt.Fprint(p.e.err, "\r\033[K")
	}
}

// interrupted returns context.Canceled once the user has pressed Ctrl-C.
func (e env) interrupted() error {
	select {
	case <-e.stop:
		return context.Canceled
	default:
		return nil
	}
}

// stoppable is a source that ends where the user presses Ctrl-C.
type stoppable struct {
	rig.Source
	e env
}

func (s stoppable) Next() (rig.Block, error) {
	if err := s.e.interrupted(); err != nil {
		return rig.Block{}, err
	}
	return s.Source.Next()
}
