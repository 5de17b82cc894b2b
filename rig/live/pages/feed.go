package pages

import (
	"context"
	"slices"
	"time"

	"quern/rig/live"
	"quern/rig/live/stream"
)

const (
	feedEvery = 100 * time.Millisecond // between two messages when nothing happens
	feedLeast = 20 * time.Millisecond  // between two looks at the engine, while somebody watches
)

// feed hands the hub what the engine publishes: ten times a second, and at once what has happened if somebody watches.
func (s *Site) feed(ctx context.Context) {
	var last live.Snapshot
	var due time.Time
	rest := time.NewTimer(0)
	defer rest.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.kick:
		}
		now, snap := time.Now(), s.opts.Engine.Now()
		if !now.Before(due) || happened(last, snap) {
			if due = due.Add(feedEvery); due.Before(now) {
				due = now.Add(feedEvery / 2) // late: the pace is taken up again, not made up for
			}
			s.opts.Hub.Publish(snap, stream.Point{LAFDB: snap.LevelDB, RMSA: snap.CurrentA, MassG: snap.MassG, State: snap.State})
			last = snap
		}
		pause := feedLeast
		if s.opts.Hub.Pages() == 0 { // then only the trace is kept, and the processor may sleep
			pause = feedEvery - feedLeast
		}
		rest.Reset(pause)
		select {
		case <-ctx.Done():
			return
		case <-rest.C:
		}
	}
}

// happened says whether there is more to tell than other figures.
func happened(a, b live.Snapshot) bool {
	if a.State != b.State || a.Session != b.Session || a.Run != b.Run || a.Ready != b.Ready || a.Caution != b.Caution || a.Fault != b.Fault ||
		a.Unit != b.Unit || a.Procedure != b.Procedure || a.Sessions != b.Sessions || len(a.Events) != len(b.Events) {
		return true
	}
	if n := len(a.Events); n > 0 && (a.Events[n-1].Kind != b.Events[n-1].Kind || a.Events[n-1].AtS != b.Events[n-1].AtS) {
		return true
	}
	if !slices.EqualFunc(a.Sources, b.Sources, func(x, y live.SourceNow) bool { return x.State == y.State && x.Note == y.Note }) {
		return true
	}
	return weighed(a.Scale, b.Scale)
}

// weighed says whether something was weighed, or is to be.
func weighed(a, b *live.ScaleNow) bool {
	if a == nil || b == nil {
		return a != b
	}
	return a.Ready != b.Ready || len(a.Weighings) != len(b.Weighings) || len(a.Outstanding) != len(b.Outstanding) ||
		(a.Expect == nil) != (b.Expect == nil) || (a.Drain == nil) != (b.Drain == nil) || (a.Capture == nil) != (b.Capture == nil) ||
		a.Capture != nil && a.Capture.AtS != b.Capture.AtS || a.Expect != nil && (a.Expect.Role != b.Expect.Role || a.Expect.Item != b.Expect.Item)
}
