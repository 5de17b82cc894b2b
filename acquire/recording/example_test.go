package recording_test

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"quern/acquire/recording"
)

func ExampleOpen() {
	dir, err := os.MkdirTemp("", "example")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	clamp, scale := filepath.Join(dir, "clamp.csv"), filepath.Join(dir, "scale.csv")
	_ = os.WriteFile(clamp, []byte("time_s,rms_a\n0.0,0\n0.1,31.5\n0.4,4.02\n"), 0o600)
	_ = os.WriteFile(scale, []byte("time_s,mass_g,stable\n0.05,2500,1\n0.30,2498,0\n"), 0o600)

	src, err := recording.Open(recording.Options{Clamp: clamp, Scale: scale})
	if err != nil {
		panic(err)
	}
	defer src.Close()
	for {
		b, err := src.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			panic(err)
		}
		fmt.Println(b.Channel, b.Readings)
	}

	_ = os.WriteFile(scale, []byte("time_s,mass_g\n0.05,2500\n0.30,\"2498,5\"\n"), 0o600)
	src, err = recording.Open(recording.Options{Scale: scale})
	if err != nil {
		panic(err)
	}
	defer src.Close()
	_, err = src.Next()
	fmt.Println(err.Error()[len(dir)+1:])
	// Output:
	// clamp [{0 0 0} {0.1 31.5 0}]
	// scale [{0.05 2500 1}]
	// scale [{0.3 2498 2}]
	// clamp [{0.4 4.02 0}]
	// scale.csv:3: found mass_g "2498,5", expected a number such as 12.4: use a decimal point
}
