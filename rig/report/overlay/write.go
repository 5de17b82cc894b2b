package overlay

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"syscall"

	"quern/rig/intact"
)

// Step is told after each frame.
type Step func(done int64)

// WriteRaw writes the frames of a span one after the other, width x height x 4 bytes each: red, green, blue
// and alpha, not multiplied by it. Whoever reads may stop when he has enough: a closed pipe is no error.
func WriteRaw(ctx context.Context, w io.Writer, f *Film, s Span, step Step) error {
	for n := range s.Frames() {
		if err := ctx.Err(); err != nil {
			return err
		}
		f.Draw(s.SessionS(n))
		if _, err := w.Write(f.Pix()); err != nil {
			if errors.Is(err, syscall.EPIPE) || errors.Is(err, io.ErrClosedPipe) {
				return nil
			}
			return fmt.Errorf("frame %d of the overlay: %w", n+1, err)
		}
		step(n + 1)
	}
	return nil
}

// FrameName returns the name of the file of frame n, counted from 0: frame-000001.png is the first.
func FrameName(n int64) string { return fmt.Sprintf("frame-%06d.png", n+1) }

// FramesPattern is FrameName as programs for film take it.
const FramesPattern = "frame-%06d.png"

// WriteFrames writes the frames of a span into a new folder as PNG files: all of them, or there is no folder.
func WriteFrames(ctx context.Context, dir string, f *Film, s Span, step Step) error {
	if _, err := os.Lstat(dir); err == nil {
		return fmt.Errorf("%s: found something of that name, expected none: frames of two films must not mix; name another folder, or remove it: %w", dir, os.ErrExist)
	}
	return intact.Folder(dir, func(begun string) error { return f.frames(ctx, begun, s, step) })
}

// shot is a frame to be written.
type shot struct {
	n   int64
	png func() ([]byte, error) // made once, by whoever asks first; frames that are alike share it
}

// frames draws in order and has the files made by as many goroutines as there are cores.
func (f *Film) frames(ctx context.Context, dir string, s Span, step Step) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	shots, written := make(chan shot), make(chan int64)
	var group sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		group.Add(1)
		go func() {
			defer group.Done()
			for k := range shots {
				if err := k.write(dir); err != nil {
					stop(err)
				}
				written <- k.n
			}
		}()
	}
	go func() {
		defer func() {
			close(shots)
			group.Wait()
			close(written)
		}()
		var now func() ([]byte, error)
		for n := range s.Frames() {
			if f.Draw(s.SessionS(n)) || now == nil {
				now = f.picture()
			}
			select {
			case shots <- shot{n, now}:
			case <-ctx.Done():
				return
			}
		}
	}()
	done := int64(0)
	for range written { // until the last goroutine has ended
		done++
		step(done)
	}
	return context.Cause(ctx)
}

var coder = png.Encoder{CompressionLevel: png.BestSpeed, BufferPool: new(buffers)}

// buffers keeps what an encoder needs.
type buffers struct{ pool sync.Pool }

func (b *buffers) Get() *png.EncoderBuffer  { e, _ := b.pool.Get().(*png.EncoderBuffer); return e }
func (b *buffers) Put(e *png.EncoderBuffer) { b.pool.Put(e) }

// picture returns the present frame as a PNG file, made when it is first asked for.
func (f *Film) picture() func() ([]byte, error) {
	m := &image.NRGBA{Pix: slices.Clone(f.frame.Pix), Stride: f.frame.Stride, Rect: f.frame.Rect}
	return sync.OnceValues(func() ([]byte, error) {
		var b bytes.Buffer
		err := coder.Encode(&b, m)
		m = nil
		return b.Bytes(), err
	})
}

func (k shot) write(dir string) error {
	b, err := k.png()
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, FrameName(k.n)), b, 0o644)
	}
	if err != nil {
		return fmt.Errorf("frame %d of the overlay: %w", k.n+1, err)
	}
	return nil
}
