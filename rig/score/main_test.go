package score

import (
	"os"
	"runtime/debug"
	"testing"
)

// TestMain lets garbage pile up: the random cases make little that lasts.
func TestMain(m *testing.M) {
	debug.SetGCPercent(1000)
	os.Exit(m.Run())
}
