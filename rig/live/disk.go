package live

import (
	"fmt"

	"golang.org/x/sys/unix"
)

// freeBytes returns what is left on the disk of a folder for this user.
func freeBytes(dir string) (uint64, error) {
	var st unix.Statfs_t
	if err := unix.Statfs(dir, &st); err != nil {
		return 0, err
	}
	return st.Bavail * uint64(st.Bsize), nil
}

// lookAtDisk warns early, and drops the waveforms before the figures.
func (e *Engine) lookAtDisk() {
	free, err := e.opts.Free(e.opts.Dir)
	if err != nil {
		e.opts.Log.Error("the disk cannot be looked at", "dir", e.opts.Dir, "err", err)
		return
	}
	set := e.setup.Bench.Record
	low := free < uint64(set.DiskWarnMB)<<20
	e.mu.Lock()
	was := e.tot.diskLow
	e.tot.free, e.tot.diskLow = free, low
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
