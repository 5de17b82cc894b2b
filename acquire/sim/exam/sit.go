package exam

import (
	"fmt"
	"sync"

	"quern/acquire/sim"
	"quern/config"
	"quern/rig"
)

// Analyse is the analysis under examination.
type Analyse func(src rig.Source, set config.Setup, name string) (rig.Result, error)

// Paper is one scenario, and what came of it.
type Paper struct {
	Scenario sim.Scenario
	Truth    rig.Result
	Result   rig.Result
	Card     Card
}

// Sit simulates one scenario, has it analysed and marks the result.
func Sit(sc sim.Scenario, analyse Analyse) (Paper, error) {
	p := Paper{Scenario: sc}
	b, err := sim.New(sc)
	if err != nil {
		return p, err
	}
	set := b.Setup()
	set.Bench.Detect = config.DefaultDetect()
	if p.Result, err = analyse(b, set, sc.Name); err != nil {
		return p, fmt.Errorf("%s: %w", sc.Name, err)
	}
	t := b.Truth()
	p.Truth = t.Result(sc.Name, set.Unit.ID, set.Procedure.ID)
	if !hasClamp(b.Streams()) {
		forgetCurrent(&p.Truth)
	}
	p.Card = Mark(p.Truth, p.Result, t.Ambiguous)
	return p, nil
}

func hasClamp(streams []rig.Stream) bool {
	for _, s := range streams {
		if s.Channel == rig.Clamp {
			return true
		}
	}
	return false
}

// forgetCurrent takes out of the truth what nobody can tell who has no current, and says so in the result
// too: load, stalls, overloads, and whether a stop was a trip.
func forgetCurrent(truth *rig.Result) {
	for i := range truth.Runs {
		r := &truth.Runs[i]
		var kept []rig.Event
		for _, e := range r.Events {
			switch e.Kind {
			case rig.Trip:
				e.Kind = rig.MotorStop
				kept = append(kept, e)
			case rig.MotorStart, rig.MotorStop:
				kept = append(kept, e)
			}
		}
		r.Events, r.Motor = kept, rig.Motor{}
	}
}

// SitAll sits n scenarios on so many workers. each is called in order of i, whatever order they finish
// in; next returns scenario i. The first error ends it.
func SitAll(n, workers int, next func(i int) sim.Scenario, analyse Analyse, each func(Paper) error) error {
	type answer struct {
		p   Paper
		err error
	}
	slots := make([]chan answer, n)
	for i := range slots {
		slots[i] = make(chan answer, 1)
	}
	quit := make(chan struct{})
	var wg sync.WaitGroup
	tickets := make(chan int)
	for range max(workers, 1) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range tickets {
				p, err := Sit(next(i), analyse)
				slots[i] <- answer{p, err}
			}
		}()
	}
	wg.Add(1)
	go func() {
		defer wg.Done()
		defer close(tickets)
		for i := range n {
			select {
			case tickets <- i:
			case <-quit:
				return
			}
		}
	}()
	defer wg.Wait()
	defer close(quit)
	for i := range slots {
		a := <-slots[i]
		if a.err != nil {
			return a.err
		}
		if err := each(a.p); err != nil {
			return err
		}
	}
	return nil
}
