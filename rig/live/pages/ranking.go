package pages

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"quern/rig"
	"quern/rig/score"
	"quern/rig/session"
)

// question is a ranking that somebody wants to see.
type question struct {
	of      *reading
	against string             // day, "2026-03-31"; "": no comparison
	weights map[string]float64 // of categories, in place of the scorecard's; nil: the scorecard's
}

// key names the answer.
func (q question) key() string {
	var w []string
	for id, v := range q.weights {
		w = append(w, fmt.Sprintf("%s=%g", id, v))
	}
	slices.Sort(w)
	return q.of.print + "\n" + q.against + "\n" + strings.Join(w, " ")
}

// ranking is an answer.
type ranking struct {
	standings *score.Standings
	moves     []score.Move // from the earlier day
	old       *score.Standings
	err       error
}

// answer ranks.
func (q question) answer() ranking {
	var out ranking
	out.standings, out.err = ranked(q.of, q.weights, time.Time{})
	if out.err != nil || q.against == "" {
		return out
	}
	end, ok := q.of.lab.EndOf(q.against)
	if !ok {
		out.err = fmt.Errorf("found the day %q, expected one such as 2026-03-31", q.against)
		return out
	}
	if out.old, out.err = ranked(q.of, q.weights, end); out.err != nil {
		return out
	}
	out.moves, out.err = score.Against(out.old, out.standings)
	return out
}

// ranked ranks what was known before a time; the zero time: all that is known. Asking for standings changes a
// campaign, so it gets one of its own.
func ranked(r *reading, weights map[string]float64, before time.Time) (*score.Standings, error) {
	records, hand := r.records, r.hand
	if !before.IsZero() {
		records, hand = rig.AsOf(records, hand, before)
	}
	lab := *r.lab
	lab.Scorecard.Categories = slices.Clone(lab.Scorecard.Categories)
	for i := range lab.Scorecard.Categories {
		k := &lab.Scorecard.Categories[i]
		if w, ok := weights[k.ID]; ok {
			k.Weight = w
		}
	}
	c, err := score.Score(&lab, records, hand)
	if err != nil {
		return nil, err
	}
	return c.Standings()
}

// rankings makes answers, one after the other, and keeps the last few.
type rankings struct {
	ask  chan question
	kept shelf[ranking]

	mu      sync.Mutex
	working map[string]chan struct{} // closed when the answer is there
}

// keptRankings is how many answers are kept: today's, a few days to compare with, and some weights.
const keptRankings = 12

func newRankings() *rankings {
	return &rankings{ask: make(chan question, 4), working: map[string]chan struct{}{}}
}

// run answers until ctx ends.
func (k *rankings) run(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case q := <-k.ask:
			a := q.answer()
			key := q.key()
			k.kept.put(key, a, keptRankings)
			k.mu.Lock()
			close(k.working[key])
			delete(k.working, key)
			k.mu.Unlock()
		}
	}
}

// get returns an answer; false: it is being made and the page has waited long enough.
func (k *rankings) get(ctx context.Context, q question) (ranking, bool) {
	key := q.key()
	k.mu.Lock()
	if a, ok := k.kept.get(key); ok {
		k.mu.Unlock()
		return a, true
	}
	done, working := k.working[key]
	if !working {
		done = make(chan struct{})
		select {
		case k.ask <- q:
			k.working[key] = done
		default: // others come first
			k.mu.Unlock()
			return ranking{}, false
		}
	}
	k.mu.Unlock()
	t := time.NewTimer(patience)
	defer t.Stop()
	select {
	case <-done:
		return k.kept.get(key)
	case <-t.C:
	case <-ctx.Done():
	}
	return ranking{}, false
}

// result returns the whole result of a session: the record's leaves out what no score looks at.
func (c *Catalogue) result(rec *rig.Record) *rig.Result {
	key := session.KeyOf(rec.Settings)
	if key == "" {
		return &rec.Result
	}
	key = rec.Session + " " + key
	if r, ok := c.results.get(key); ok {
		return r
	}
	r := c.load(rec)
	c.results.put(key, r, keptResults)
	return r
}

// keptResults is some pages of the list.
const keptResults = 200
