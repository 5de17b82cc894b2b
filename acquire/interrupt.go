package acquire

import (
	"context"
	"time"
)

// Past is a deadline that ends a read or a write at once.
var Past = time.Unix(1, 0)

// Interrupt sets a file's deadline to Past once ctx has ended, so that a read or a write of it returns. What it
// returns takes that back, and waits for what is under way: nothing runs on after it.
func Interrupt(ctx context.Context, deadline func(time.Time) error) (release func()) {
	ended := make(chan struct{})
	stop := context.AfterFunc(ctx, func() {
		defer close(ended)
		_ = deadline(Past) // fails only on a closed file, where nobody waits
	})
	return func() {
		if !stop() {
			<-ended
		}
	}
}
