package sheet

import "testing"

// BenchmarkPages makes each kind of page of the bench of the tests; series are kept after the first time.
func BenchmarkPages(b *testing.B) {
	for _, kind := range []string{"unit", "standings", "session"} {
		b.Run(kind, func(b *testing.B) {
			s, o := scored(b)
			for b.Loop() {
				if _, err := makers[kind](b.Context(), o, s); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
