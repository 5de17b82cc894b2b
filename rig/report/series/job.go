package series

import (
	"context"
	"math"
	"sync/atomic"
	"time"
)

// Job is work that many may wait for.
type Job struct {
	done  chan struct{}
	err   error // once done
	share atomic.Uint64
}

// NewJob returns one that is under way.
func NewJob() *Job { return &Job{done: make(chan struct{})} }

// Reach says how much of the work is done, from 0 to 1.
func (j *Job) Reach(share float64) { j.share.Store(math.Float64bits(share)) }

// Reached returns the share of the work that is done: less than 1 until it is over.
func (j *Job) Reached() float64 {
	if j.Over() {
		return 1
	}
	return min(math.Float64frombits(j.share.Load()), 0.999)
}

// Over says whether the work has ended, well or not.
func (j *Job) Over() bool {
	select {
	case <-j.done:
		return true
	default:
		return false
	}
}

// Done is closed when the work has ended.
func (j *Job) Done() <-chan struct{} { return j.done }

// Err returns why the work failed; nil before its end.
func (j *Job) Err() error {
	if j.Over() {
		return j.err
	}
	return nil
}

// End ends the work, once.
func (j *Job) End(err error) {
	j.err = err
	close(j.done)
}

// patience is how long a request waits for what is nearly derived, before it tells what there is.
const patience = 300 * time.Millisecond

// Await waits a little for the work, and returns its error if it failed.
func (j *Job) Await(ctx context.Context) error {
	if !j.Over() {
		t := time.NewTimer(patience)
		defer t.Stop()
		select {
		case <-j.done:
		case <-t.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return j.Err()
}
