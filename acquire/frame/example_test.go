package frame_test

import (
	"fmt"
	"testing"

	"quern/acquire/frame"
)

func Example() {
	cfg := frame.Usual()
	cfg.Shape = "mark-number-unit"
	r, err := frame.New(cfg)
	if err != nil {
		panic(err)
	}
	// The port was opened in the middle of a line: 4.5 g is not what the scale showed.
	r.Push([]byte("4.5 g\r\nST  1234.5 g\r\nOL         g\r\nST  12#4.5 g\r\n"), func(f frame.Found) {
		switch {
		case f.Reject != "":
			fmt.Println("rejected:", f.Reject)
		case f.OutOfRange != "":
			fmt.Println(f.OutOfRange)
		default:
			g, _ := frame.Grams(f.Reading.Value, f.Reading.Unit)
			fmt.Println(g, "g")
		}
	})
	// Output:
	// 1234.5 g
	// out of range: says "OL"
	// rejected: "ST  12#4.5 g" has "4.5" beside the number: damaged, or frame.shape is another
}

func ExamplePropose() {
	cfg, score, why := frame.Propose([]byte("kg\r\nST,GS,+0012.345kg\r\nST,GS,+0012.345kg\r\nUS,GS,+0012.350kg\r\n"))
	fmt.Println(cfg.Shape, cfg.Unit, score)
	fmt.Println(why)
	// Output:
	// mark-kind-number-unit kg 1
	// 3 of 3 frames fit the shape mark-kind-number-unit; the unit is kg. They tell whether the reading is steady: make sure that it changes when the pan is touched.
}

func BenchmarkReader(b *testing.B) {
	cfg := frame.Usual()
	cfg.Shape = "mark-kind-number-unit"
	r, err := frame.New(cfg)
	if err != nil {
		b.Fatal(err)
	}
	line := []byte("ST,GS,+0012.345kg\r\n")
	b.SetBytes(int64(len(line)))
	for b.Loop() {
		r.Push(line, func(frame.Found) {})
	}
}
