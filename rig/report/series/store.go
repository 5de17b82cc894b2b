package series

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"quern/rig/intact"
)

// CacheName is the hidden folder beside the sessions in which derived series are kept.
const CacheName = ".series"

const (
	storeMagic   = "quern series\n"
	storeVersion = 1
	storeSuffix  = ".bin"
	mostFile     = 256 << 20 // bytes of one file; 20 minutes make about 11 MB
	mostStored   = 2 << 30   // bytes of all of them
	longestName  = 150       // bytes of a session's name in that of its file
)

// store is the folder of derived series. Everything in it can be made again: what does not prove itself is
// as good as not there, and the oldest is dropped when it grows beyond its limit.
type store struct {
	dir   string // "": nothing is kept
	limit int64  // bytes
}

var errNotStored = errors.New("not stored")

func (st store) name(s *Session) string {
	base := filepath.Base(s.dir)
	if len(base) > longestName {
		base = base[:longestName] // the key tells apart what is left alike
	}
	return filepath.Join(st.dir, base+"-"+s.key+storeSuffix)
}

// load puts what was derived earlier into a session, all of it or nothing.
func (st store) load(s *Session) error {
	if st.dir == "" {
		return errNotStored
	}
	name := st.name(s)
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() || info.Size() > mostFile {
		return errNotStored
	}
	b := make([]byte, info.Size())
	if _, err := io.ReadFull(f, b); err != nil {
		return err
	}
	d, err := decodeDerived(b, s.key)
	if err != nil {
		return err
	}
	if err := d.into(s); err != nil {
		return err
	}
	now := time.Now()
	_ = os.Chtimes(name, now, now) // only tells which was used last
	return nil
}

// save keeps what was derived. A cache that cannot be written is no error: it is a cache.
func (st store) save(s *Session) {
	if st.dir == "" || len(s.waves) == 0 {
		return
	}
	if err := os.Mkdir(st.dir, 0o755); err != nil && !errors.Is(err, os.ErrExist) {
		return
	}
	b := derivedOf(s).encode(s.key)
	if len(b) > mostFile || int64(len(b)) > st.limit {
		return
	}
	if intact.Remade(st.name(s), 0o600, intact.Bytes(b)) == nil {
		st.prune(st.name(s))
	}
}

// leftoverAfter is when a file that was begun counts as left behind.
const leftoverAfter = time.Hour

// prune drops what was used longest ago until the rest is within the limit; never keep.
func (st store) prune(keep string) {
	entries, err := os.ReadDir(st.dir)
	if err != nil {
		return
	}
	type file struct {
		name  string
		bytes int64
		used  time.Time
	}
	var all []file
	total := int64(0)
	for _, e := range entries {
		info, err := e.Info()
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		name := filepath.Join(st.dir, e.Name())
		if strings.HasPrefix(e.Name(), intact.Begun) && time.Since(info.ModTime()) > leftoverAfter {
			_ = os.Remove(name) // next time
			continue
		}
		if strings.HasSuffix(name, storeSuffix) {
			total += info.Size()
			if name != keep {
				all = append(all, file{name, info.Size(), info.ModTime()})
			}
		}
	}
	slices.SortFunc(all, func(a, b file) int { return a.used.Compare(b.used) })
	for _, f := range all {
		if total <= st.limit {
			return
		}
		if os.Remove(f.name) == nil {
			total -= f.bytes
		}
	}
}
