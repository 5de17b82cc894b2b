package series

import (
	"context"
	"errors"
	"fmt"
	"sync"
)

// derive makes what is not there yet, and keeps it.
func (s *Session) derive(ctx context.Context) error {
	type work struct{ scan, rest func() error }
	var all []work
	for name, w := range s.waves {
		k := work{scan: func() error { return s.finish(w.sumUp(ctx), w.job) }, rest: func() error { return nil }}
		switch name {
		case Waveform:
			k.rest = func() error {
				return s.finish(hear(ctx, w, s.set, s.series[Level], s.octaves), s.series[Level].job, s.octaves.job)
			}
		case Current:
			k.rest = func() error { return s.finish(feel(ctx, w, s.set, s.series[RMS]), s.series[RMS].job) }
		}
		all = append(all, k)
	}
	errs := make([]error, len(all))
	var group sync.WaitGroup
	for i, k := range all {
		group.Add(1)
		go func() {
			defer group.Done()
			if errs[i] = k.scan(); errs[i] != nil {
				_ = k.rest() // it ends its jobs
			}
		}()
	}
	group.Wait()
	select { // one session at a time: the daemon may be recording another
	case s.turn <- struct{}{}:
		defer func() { <-s.turn }()
	case <-ctx.Done():
	}
	for i, k := range all {
		if errs[i] != nil {
			continue
		}
		group.Add(1)
		go func() {
			defer group.Done()
			errs[i] = k.rest()
		}()
	}
	group.Wait()
	if err := errors.Join(errs...); err != nil {
		return err
	}
	s.store.save(s)
	return nil
}

// finish ends jobs with an error that says which session it is of.
func (s *Session) finish(err error, jobs ...*Job) error {
	if err != nil && !errors.Is(err, context.Canceled) {
		err = fmt.Errorf("session %s: %w; check it with 'quern verify'", s.manifest.Session, err)
	}
	for _, j := range jobs {
		j.End(err)
	}
	return err
}

func (s *Session) endJobs(err error) {
	for _, w := range s.waves {
		w.job.End(err)
	}
	for name, x := range s.series {
		if name == Current || x.job.Over() {
			continue
		}
		x.job.End(err)
	}
	if s.octaves != nil {
		s.octaves.job.End(err)
	}
}
