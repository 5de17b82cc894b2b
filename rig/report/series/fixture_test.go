package series

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"math/rand/v2"
	"testing"
)

// opened opens a session, with a cache if one is named, and waits for everything.
func opened(t testing.TB, dir, cache string) *Session {
	t.Helper()
	s, err := Open(dir, cache)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	if err := s.Wait(t.Context()); err != nil {
		t.Fatal(err)
	}
	return s
}

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// signed gives bytes a checksum in place of their last four.
func signed(b []byte) []byte {
	body := bytes.Clone(b[:max(0, len(b)-4)])
	return binary.LittleEndian.AppendUint32(body, crc32.Checksum(body, castagnoli))
}
