package live

import (
	"fmt"

	"golang.org/x/sys/unix"

	"quern/rig"
)

// Writable says what keeps this user from writing into the folder of the sessions: it has gone, its disk has become
// read-only, as those do that fail, or the right to it is another's.
func Writable(dir string) error {
	err := unix.Access(dir, unix.W_OK|unix.X_OK)
	if err == nil {
		return nil
	}
	return &rig.FileError{File: dir, Byte: -1, Found: "a folder that cannot be written to (" + err.Error() + ")",
		Want: "one that takes sessions", Do: "look at its disk and at the right to write; until then no run is kept", Err: err}
}

// freeBytes returns what is left for this user on the disk of a folder that can be written to.
func freeBytes(dir string) (uint64, error) {
	if err := Writable(dir); err != nil {
		return 0, err
	}
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		return 0, err
	}
	return st.Bavail * uint64(st.Bsize), nil
}

// fit says whether the folder of the sessions can be written to, tells once if not, and takes it back once it can.
func (e *Engine) fit() bool {
	free, err := e.opts.Free(e.opts.Dir)
	switch {
	case err != nil:
		e.fail(err)
	case e.barred:
		e.recovers()
	}
	e.barred = err != nil
	if err == nil {
		e.mu.Lock()
		e.tot.free = free
		e.mu.Unlock()
	}
	return err == nil
}

// lookAtDisk warns early, and drops the waveforms before the figures.
func (e *Engine) lookAtDisk() {
	if !e.fit() {
		return
	}
	set := e.setup.Bench.Record
	e.mu.Lock()
	free, was := e.tot.free, e.tot.diskLow
	low := free < uint64(set.DiskWarnMB)<<20
	e.tot.diskLow, e.tot.diskOut = low, free < uint64(set.DiskDropMB)<<20
	e.mu.Unlock()
	if low && !was {
		e.opts.Log.Warn("the disk is filling", "free_mb", free>>20, "warn_mb", set.DiskWarnMB)
	}
	if e.rec != nil && !e.rec.dropped && free < uint64(set.DiskDropMB)<<20 {
		text := fmt.Sprintf("%d MB were left on the disk: from %.1f s on no waveforms were kept, only the journal; a replay ends there", free>>20, e.sup.NowS()-e.rec.fold.baseS)
		e.opts.Log.Error("waveforms are no longer kept", "free_mb", free>>20)
		if err := e.rec.drop(text); err != nil {
			e.broken(err)
		}
	}
}
