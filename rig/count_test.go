package rig

import "testing"

func TestCount(t *testing.T) {
	for n, want := range map[int]string{0: "0 runs", 1: "1 run", 2: "2 runs", 11: "11 runs", -1: "-1 runs"} {
		if got := Count(n, "run"); got != want {
			t.Errorf("%d: got %q, want %q", n, got, want)
		}
		if got := Count(int64(n), "run"); got != want {
			t.Errorf("%d: got %q, want %q", n, got, want)
		}
	}
}
