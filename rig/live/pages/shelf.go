package pages

import "sync"

// shelf keeps the last few things that were made, by what they were made of.
type shelf[T any] struct {
	mu    sync.Mutex
	items []shelved[T] // the one used last comes last
}

type shelved[T any] struct {
	key string
	v   T
}

func (s *shelf[T]) get(key string) (v T, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, x := range s.items {
		if x.key == key {
			s.items = append(append(s.items[:i:i], s.items[i+1:]...), x)
			return x.v, true
		}
	}
	return v, false
}

func (s *shelf[T]) put(key string, v T, most int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, x := range s.items {
		if x.key == key {
			s.items[i].v = v
			return
		}
	}
	s.items = append(s.items, shelved[T]{key, v})
	if n := len(s.items) - most; n > 0 {
		s.items = append([]shelved[T]{}, s.items[n:]...)
	}
}
