package rig

import "strconv"

// Count writes a number of things of which one more makes an s: "1 sample", "2 samples".
func Count[N int | int64](n N, one string) string {
	s := strconv.FormatInt(int64(n), 10) + " " + one
	if n != 1 {
		s += "s"
	}
	return s
}
