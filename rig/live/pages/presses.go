package pages

import (
	"time"
)

// insistS is within which a press that was refused is meant when it is pressed again, and below which it is the same
// press: a foot switch bounces.
const insistS, bounceS = 15.0, 0.7

// insists says whether what is refused now was refused to the same person a moment ago already.
func (b *bench) insists(who string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	now := b.now()
	ago, same := now.Sub(b.refused).Seconds(), who == b.refusedTo
	if same && ago < bounceS {
		return false
	}
	b.refused, b.refusedTo = now, who
	if !same || ago > insistS {
		return false
	}
	b.refused = time.Time{}
	return true
}

// turn begins or ends a session by the one button for both, once a press: it says the other thing as soon as it has done
// the one, and a bounce or a second tap would take that back.
func (b *bench) turn(do func() (string, error)) (string, error) {
	b.mu.Lock()
	again, said := b.now().Sub(b.turned).Seconds() < bounceS, b.turnedTo
	b.mu.Unlock()
	if again {
		return said, nil
	}
	said, err := do()
	if err == nil {
		b.mu.Lock()
		b.turned, b.turnedTo = b.now(), said
		b.mu.Unlock()
	}
	return said, err
}
