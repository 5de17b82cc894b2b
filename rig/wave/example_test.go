package wave_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"quern/rig/wave"
)

// A recorder that lost its power never wrote the lengths into the header. All that reached the file
// is read, and the reader says what it put right.
func ExampleOpen() {
	dir, err := os.MkdirTemp("", "example")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	f, err := os.Create(filepath.Join(dir, "microphone.wav"))
	if err != nil {
		panic(err)
	}
	defer f.Close()
	w, err := wave.Create(f, wave.Format{RateHz: 48000, Channels: 1, Encoding: wave.PCM24}, "microphone.wav")
	if err != nil {
		panic(err)
	}
	_ = w.Write([]float64{0, 0.5, -0.25})
	_ = w.Flush() // no Close

	b, err := os.ReadFile(f.Name())
	if err != nil {
		panic(err)
	}
	r, err := wave.Open(bytes.NewReader(b), int64(len(b)), "microphone.wav")
	if err != nil {
		panic(err)
	}
	samples := make([]float64, 100)
	n, err := r.Read(samples, 1)
	fmt.Println(r.Format())
	fmt.Println(samples[:n], err)
	_, err = r.Read(samples, 1)
	fmt.Println(err == io.EOF)
	fmt.Println(r.Repairs()[0])
	// Output:
	// 48000 Hz, 1 channel, 24-bit PCM
	// [0 0.5 -0.25] <nil>
	// true
	// the header leaves the length of the samples open: read to the end of the file, 9 bytes
}
