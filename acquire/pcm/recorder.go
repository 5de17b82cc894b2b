package pcm

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"syscall"
	"time"

	"golang.org/x/sys/unix"

	"quern/acquire"
	"quern/rig"
)

// Constants of the recorder; the project's own choice.
const (
	pipeBytes = 1 << 20                // some 10 s of 16-bit sound: so long may this program stand still
	readBytes = 1 << 16                // read at once
	killAfter = 500 * time.Millisecond // for arecord to let go of the card
)

// recorder is one run of arecord.
type recorder struct {
	card    *Card
	cmd     *exec.Cmd
	samples *os.File // read ends of its standard output and error, never blocking
	errors  *os.File
	said    said
}

// start starts arecord. The goroutine keeps its thread until end: the kernel ends the child with the
// thread that started it.
func (c *Card) start() (*recorder, error) {
	path, err := exec.LookPath(c.program)
	if err != nil {
		return nil, &rig.FileError{File: c.Name(), Byte: -1, Found: "no " + c.program, Want: "the recorder of alsa-utils", Do: "install alsa-utils (sudo apt install alsa-utils)", Err: err}
	}
	r := &recorder{card: c}
	r.said = said{frameBytes: int64(c.format.bytes * c.alsa.Channels), buffer: int64(c.alsa.BufferUs) * int64(c.alsa.RateHz) / 1e6}
	out, outW, err := pipe()
	if err != nil {
		return nil, err
	}
	msg, msgW, err := pipe()
	if err != nil {
		_, _ = out.Close(), outW.Close()
		return nil, err
	}
	// A smaller pipe only bridges less.
	_, _ = unix.FcntlInt(out.Fd(), unix.F_SETPIPE_SZ, pipeBytes)
	r.samples, r.errors = out, msg
	r.cmd = exec.Command(path, c.args()...)
	r.cmd.Env = append(os.Environ(), "LC_ALL=C")
	r.cmd.Stdout, r.cmd.Stderr = outW, msgW
	// A group of its own: a key that ends this program is not for arecord.
	r.cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL, Setpgid: true}
	runtime.LockOSThread()
	err = r.cmd.Start()
	_, _ = outW.Close(), msgW.Close()
	if err != nil {
		runtime.UnlockOSThread()
		_, _ = out.Close(), msg.Close()
		return nil, fmt.Errorf("%s: %s does not start: %w: install alsa-utils anew", c.Name(), path, err)
	}
	return r, nil
}

// pipe returns a pipe whose read end does not block; its write end blocks, as programs expect.
func pipe() (r, w *os.File, err error) {
	var fds [2]int
	if err := unix.Pipe2(fds[:], unix.O_CLOEXEC); err != nil {
		return nil, nil, fmt.Errorf("a pipe for the recorder: %w: raise the limit of open files", err)
	}
	r, w = os.NewFile(uintptr(fds[0]), "pipe"), os.NewFile(uintptr(fds[1]), "pipe")
	if err := unix.SetNonblock(fds[0], true); err != nil {
		_, _ = r.Close(), w.Close()
		return nil, nil, fmt.Errorf("a pipe for the recorder: %w", err)
	}
	return r, w, nil
}

// end ends arecord if it still runs, waits for it, closes everything, and tells how it ended.
func (r *recorder) end() string {
	defer runtime.UnlockOSThread()
	_ = r.cmd.Process.Signal(syscall.SIGTERM)
	_, _ = r.samples.Close(), r.errors.Close() // a full pipe must not hold it
	killed := make(chan struct{})
	late := time.AfterFunc(killAfter, func() { _ = r.cmd.Process.Kill(); close(killed) })
	err := r.cmd.Wait()
	if !late.Stop() {
		<-killed
	}
	if err == nil {
		return "exit status 0"
	}
	return err.Error()
}

// follow reads samples and messages until ctx ends or arecord closes its output. One goroutine reads both,
// so that the place of a loss among the samples is known.
func (r *recorder) follow(ctx context.Context, deliver func(got time.Time, b []byte, at int64) error) error {
	wakeR, wakeW, err := pipe()
	if err != nil {
		return err
	}
	woken := make(chan struct{})
	stop := context.AfterFunc(ctx, func() { _ = wakeW.Close(); close(woken) })
	defer func() {
		if stop() {
			_ = wakeW.Close()
		} else {
			<-woken
		}
		_ = wakeR.Close()
	}()
	samples, errs := int(r.samples.Fd()), int(r.errors.Fd())
	fds := []unix.PollFd{{Fd: int32(wakeR.Fd()), Events: unix.POLLIN}, {Fd: int32(errs), Events: unix.POLLIN}, {Fd: int32(samples), Events: unix.POLLIN}}
	buf := make([]byte, readBytes)
	var rest int // bytes of a frame not yet whole, at the start of buf
	var at int64 // bytes delivered
	for {
		if _, err := unix.Poll(fds, -1); err != nil {
			if errors.Is(err, unix.EINTR) {
				continue
			}
			return fmt.Errorf("%s: waiting for samples: %w", r.card.Name(), err)
		}
		if ctx.Err() != nil {
			return nil
		}
		// Messages first: what they tell of lies after all that has been written until now.
		if fds[1].Revents != 0 && !r.hear(errs, samples, at+int64(rest)) {
			fds[1].Fd = -1
		}
		if fds[2].Revents == 0 {
			continue
		}
		n, err := unix.Read(samples, buf[rest:])
		got := time.Now()
		switch {
		case errors.Is(err, unix.EAGAIN), errors.Is(err, unix.EINTR):
			continue
		case err != nil:
			return fmt.Errorf("%s: reading samples: %w", r.card.Name(), err)
		case n == 0:
			r.hearAll(errs, samples, at)
			return nil
		}
		n += rest
		whole := n - n%int(r.said.frameBytes)
		if err := deliver(got, buf[:whole], at); err != nil {
			return err
		}
		at += int64(whole)
		rest = copy(buf, buf[whole:n])
	}
}

// hear reads messages. taken is the number of bytes of samples read; those waiting in the pipe were
// written before the messages too. It returns false at their end.
func (r *recorder) hear(errs, samples int, taken int64) bool {
	var buf [4096]byte
	n, err := unix.Read(errs, buf[:])
	if errors.Is(err, unix.EAGAIN) || errors.Is(err, unix.EINTR) {
		return true
	}
	if err != nil || n <= 0 {
		return false
	}
	waiting, err := unix.IoctlGetInt(samples, unix.TIOCINQ)
	if err != nil {
		waiting = 0
	}
	r.said.push(buf[:n], taken+int64(waiting))
	return true
}

// lastWords is how many reads of messages are made at the end: a program that floods them must not hold us.
const lastWords = 16

// hearAll reads what was said last. arecord has closed its output, so it has said it, or is about to.
func (r *recorder) hearAll(errs, samples int, taken int64) {
	fd := []unix.PollFd{{Fd: int32(errs), Events: unix.POLLIN}}
	for range lastWords {
		if n, err := unix.Poll(fd, int(killAfter.Milliseconds())); n <= 0 && !errors.Is(err, unix.EINTR) {
			return
		}
		if !r.hear(errs, samples, taken) {
			return
		}
	}
}

// deliverer returns what hands samples to a sink: whole frames b, before which at bytes were delivered.
func (c *Card) deliverer(to acquire.Sink, s *said) func(got time.Time, b []byte, at int64) error {
	var out []float64
	var lost int64 // frames, before the next
	rateHz := float64(c.alsa.RateHz)
	hand := func(got time.Time, b []byte) {
		insane := false
		var all [][]float64
		out = out[:0]
		for _, t := range c.taken {
			from, sane := len(out), true
			out, sane = c.format.pick(out, b, c.alsa.Channels, t.n)
			all = append(all, out[from:])
			insane = insane || !sane
		}
		frames := int64(len(b)) / s.frameBytes
		if frames == 0 {
			return
		}
		if insane {
			for _, t := range c.taken {
				to.Reject(t.channel, "samples that are no numbers: is microphone.device.alsa.format what the card sends?")
			}
			lost += frames
			return
		}
		for i, t := range c.taken {
			to.Samples(t.channel, got, lost, all[i])
		}
		lost = 0
	}
	return func(got time.Time, b []byte, at int64) error {
		if is := s.wrongRate(c.alsa.RateHz); is != 0 {
			return &rig.FileError{File: c.Name(), Byte: -1, Found: fmt.Sprintf("a card that runs at %d Hz", is), Want: fmt.Sprintf("rate_hz = %d", c.alsa.RateHz),
				Do: fmt.Sprintf("set microphone.device.alsa.rate_hz = %d, or device to plughw:%s to have it resampled", is, strings.TrimPrefix(c.alsa.Device, "hw:"))}
		}
		for len(s.losses) > 0 && s.losses[0].at < at+int64(len(b)) {
			l := s.losses[0]
			s.losses = s.losses[1:]
			n := max(0, l.at-at)
			hand(got, b[:n])
			b, at = b[n:], at+n
			if frames, known := l.frames(rateHz); known {
				lost += frames
				continue
			}
			for _, t := range c.taken {
				to.Xrun(t.channel)
			}
		}
		hand(got, b)
		return nil
	}
}
