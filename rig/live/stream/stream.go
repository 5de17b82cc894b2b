// Package stream sends what the bench does now to every page that is open, as server-sent events: each
// message is encoded once for all, a page that does not keep up is cut off, and one that comes back is given
// what it missed.
//
// Event now: {"boot":"…","id":n,"at_ms":…,"t_s":…,"s":{…}}, at most about ten a second; at_ms is Unix time, t_s
// seconds since the hub began, s what was published. Event trace: {"boot":"…","id":n,"from_s":…,"step_s":0.1,
// "laf_db":[…],"rms_a":[…],"mass_g":[…],"state":[…]} twice a second, on the time base of t_s, null where
// nothing was measured; the first one on a connection holds what the page lacks. boot changes when the daemon
// begins anew: then so do t_s and the traces.
package stream

import (
	"crypto/rand"
	"encoding/hex"
	"math"
	"sort"
	"strconv"
	"strings"
	"sync"
	"time"

	"quern/rig"
)

const (
	step       = 100 * time.Millisecond // between two points of a trace
	stepS      = 0.1
	batch      = 5 // points of a trace message
	ringPoints = 30 * 60 * 10
	bridged    = 10 // so many points without news are held, as on a display; more are a gap
	queued     = 64 // messages that a page may lag behind: five seconds, and what the network holds
	mostPages  = 48
)

// Point is what a trace keeps of an instant.
type Point struct {
	LAFDB rig.Figure
	RMSA  rig.Figure
	MassG rig.Figure
	State rig.State
}

// Hub holds what was published last, the trace of the last half hour, and who is to be told.
type Hub struct {
	boot  string
	begun time.Time

	mu     sync.Mutex
	closed bool
	id     int64
	pages  map[*page]bool

	now   any // as it was published last
	nowAt time.Time
	nowID int64
	sent  []byte // its message, once somebody needed it

	ring  [ringPoints]kept
	next  int64 // index of the next point, counted in steps since begun
	first int64 // index of the oldest point that is kept
	told  int64 // up to here, not included, points were sent
	marks []mark
}

// kept is a point in 16 bytes.
type kept struct {
	laf, rms, mass float32 // NaN: absent
	state          uint8
}

// mark is a message after which a page has all points before an index.
type mark struct{ id, upTo int64 }

// states are kept by their place in this list.
var states = [...]rig.State{rig.Unknown, rig.Off, rig.Starting, rig.NoLoad, rig.Loaded, rig.Overloaded, rig.Stalled, rig.Tripped}

// page is one open connection.
type page struct {
	out     chan []byte // closed when it is cut off
	history int         // points it wants at most
}

// New returns a hub that begins now.
func New() *Hub {
	var b [4]byte
	_, _ = rand.Read(b[:]) // never fails
	return &Hub{boot: hex.EncodeToString(b[:]), begun: time.Now(), pages: map[*page]bool{}}
}

// Publish takes what the bench does now. now is encoded as JSON, later or never, and must not change.
func (h *Hub) Publish(now any, p Point) {
	at := time.Now()
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closed {
		return
	}
	h.add(at, p)
	h.id++
	h.now, h.nowAt, h.nowID, h.sent = now, at, h.id, nil
	if len(h.pages) > 0 {
		h.send(h.nowMessage())
	}
	if h.next-h.told >= batch {
		h.id++
		if len(h.pages) > 0 {
			h.send(h.traceMessage(h.told, h.next, h.id))
		}
		h.told = h.next
		h.marks = append(h.marks, mark{h.id, h.told})
		if len(h.marks) > 2*ringPoints/batch {
			h.marks = append([]mark(nil), h.marks[ringPoints/batch:]...)
		}
	}
}

// Pages returns how many pages are open.
func (h *Hub) Pages() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.pages)
}

// Close ends all connections; nobody is let in any more.
func (h *Hub) Close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.closed = true
	for p := range h.pages {
		h.cut(p)
	}
}

// add writes the point of an instant, and those of the instants since the last one.
func (h *Hub) add(at time.Time, p Point) {
	i := int64(at.Sub(h.begun) / step)
	if i < h.next {
		return
	}
	missing := i - h.next
	fill := kept{laf: nan32, rms: nan32, mass: nan32}
	if missing <= bridged && h.next > 0 {
		fill = h.ring[(h.next-1)%ringPoints]
	}
	for j := max(h.next, i-ringPoints); j < i; j++ {
		h.ring[j%ringPoints] = fill
	}
	h.ring[i%ringPoints] = keep(p)
	h.next = i + 1
	h.first = max(h.first, h.next-ringPoints)
	h.told = max(h.told, h.first)
}

var nan32 = float32(math.NaN())

func keep(p Point) kept {
	short := func(f rig.Figure) float32 {
		if !f.OK {
			return nan32
		}
		return float32(f.V)
	}
	k := kept{laf: short(p.LAFDB), rms: short(p.RMSA), mass: short(p.MassG)}
	for i, s := range states {
		if s == p.State {
			k.state = uint8(i)
		}
	}
	return k
}

// send puts a message into every queue; a full one belongs to a page that does not read.
func (h *Hub) send(m []byte) {
	for p := range h.pages {
		select {
		case p.out <- m:
		default:
			h.cut(p)
		}
	}
}

func (h *Hub) cut(p *page) {
	if h.pages[p] {
		delete(h.pages, p)
		close(p.out)
	}
}

// join opens a connection that has seen the messages up to last, and returns what it lacks.
func (h *Hub) join(p *page, last string) (lacks [][]byte, ok bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closed || len(h.pages) >= mostPages {
		return nil, false
	}
	p.out = make(chan []byte, queued)
	h.pages[p] = true
	from := max(h.first, h.upTo(last), h.told-int64(p.history))
	if h.now != nil {
		lacks = append(lacks, h.nowMessage())
	}
	if from < h.told { // last, for its id says up to where the page has the trace
		lacks = append(lacks, h.traceMessage(from, h.told, h.marks[len(h.marks)-1].id))
	}
	return lacks, true
}

func (h *Hub) leave(p *page) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.cut(p)
}

// upTo returns the index before which a page has all points that has seen a message; 0: none.
func (h *Hub) upTo(last string) int64 {
	boot, n, _ := strings.Cut(last, ".")
	id, err := strconv.ParseInt(n, 10, 64)
	if err != nil || boot != h.boot || id > h.id {
		return 0
	}
	i := sort.Search(len(h.marks), func(i int) bool { return h.marks[i].id > id })
	if i == 0 {
		return 0
	}
	return h.marks[i-1].upTo
}
