package overlay

import (
	"bytes"
	"context"
	"errors"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"testing"

	"quern/rig/report/timecode"
)

func quiet(int64) {}

// The pictures are those that are drawn, numbered from 1, and nothing else is left.
func TestWriteFrames(t *testing.T) {
	d := t.TempDir()
	dir := filepath.Join(d, "frames")
	s := Span{Rate: timecode.Rate{Num: 25, Den: 1}, FromS: 23.8, ToS: 24.4}
	last := int64(0)
	if err := WriteFrames(context.Background(), dir, film(t, eventful(), looks[2]), s, func(n int64) { last = max(last, n) }); err != nil {
		t.Fatal(err)
	}
	if last != s.Frames() {
		t.Errorf("told of %d frames, want %d", last, s.Frames())
	}
	if all, _ := os.ReadDir(dir); len(all) != 15 || all[0].Name() != "frame-000001.png" || all[14].Name() != "frame-000015.png" {
		t.Errorf("the folder holds %v", all)
	}
	if all, _ := os.ReadDir(d); len(all) != 1 {
		t.Errorf("beside the folder something is left: %v", all)
	}
	f := film(t, eventful(), looks[2])
	for _, n := range []int64{0, 5, 14} {
		f.Draw(s.SessionS(n))
		r, err := os.Open(filepath.Join(dir, FrameName(n)))
		if err != nil {
			t.Fatal(err)
		}
		m, err := png.Decode(r)
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		for y := range 360 {
			for x := range 640 {
				if m.At(x, y) != f.frame.At(x, y) {
					t.Fatalf("frame %d, pixel %d,%d: %v in the file, %v drawn", n, x, y, m.At(x, y), f.frame.At(x, y))
				}
			}
		}
	}
}

// A work that is broken off leaves nothing; a folder that is there is left alone.
func TestWriteFramesBrokenOff(t *testing.T) {
	d := t.TempDir()
	ctx, stop := context.WithCancel(context.Background())
	s := Span{Rate: timecode.Rate{Num: 25, Den: 1}, FromS: 0, ToS: 20}
	err := WriteFrames(ctx, filepath.Join(d, "frames"), film(t, eventful(), looks[2]), s, func(n int64) {
		if n == 7 {
			stop()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("broken off: %v", err)
	}
	if all, _ := os.ReadDir(d); len(all) != 0 {
		t.Errorf("left: %v", all)
	}
	if err := os.WriteFile(filepath.Join(d, "taken"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := WriteFrames(context.Background(), filepath.Join(d, "taken"), film(t, bare(), looks[2]), s, quiet); !errors.Is(err, os.ErrExist) {
		t.Errorf("a name that is taken: %v", err)
	}
	if b, _ := os.ReadFile(filepath.Join(d, "taken")); string(b) != "mine" {
		t.Errorf("what was there is now %q", b)
	}
	if err := WriteFrames(context.Background(), filepath.Join(d, "none", "frames"), film(t, bare(), looks[2]), s, quiet); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no such folder: %v", err)
	}
}

// A few bytes of a pipe are read and no more.
type pipe struct {
	bytes.Buffer
	most int
}

func (p *pipe) Write(b []byte) (int, error) {
	if p.Len()+len(b) > p.most {
		return 0, io.ErrClosedPipe
	}
	return p.Buffer.Write(b)
}

func TestWriteRaw(t *testing.T) {
	s := Span{Rate: timecode.Rate{Num: 25, Den: 1}, FromS: 60.9, ToS: 61.1}
	const frame = 4 * 640 * 360
	var p pipe
	p.most = 100 * frame
	if err := WriteRaw(context.Background(), &p, film(t, eventful(), looks[2]), s, quiet); err != nil || p.Len() != 5*frame {
		t.Fatalf("%d bytes, want 5 frames of %d: %v", p.Len(), frame, err)
	}
	f := film(t, eventful(), looks[2])
	for n := range s.Frames() {
		f.Draw(s.SessionS(n))
		if !bytes.Equal(f.Pix(), p.Bytes()[n*frame:(n+1)*frame]) {
			t.Errorf("frame %d is not the one that is drawn", n)
		}
	}
	p.Reset()
	p.most = 3 * frame
	if err := WriteRaw(context.Background(), &p, film(t, eventful(), looks[2]), s, quiet); err != nil {
		t.Errorf("a closed pipe: %v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if err := WriteRaw(ctx, io.Discard, film(t, eventful(), looks[2]), s, quiet); !errors.Is(err, context.Canceled) {
		t.Errorf("broken off: %v", err)
	}
}
