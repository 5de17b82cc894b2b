package pages

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"time"

	"quern/config"
	"quern/rig"
	"quern/rig/score"
	"quern/rig/session"
	"quern/rig/session/replay"
)

// Catalogue is what the pages know of all sessions: read from their folder and scored under the lab. It is
// read anew when somebody asks and something has changed; a page never waits long for that, but shows what
// was known and says that it is being read. Sessions that lack an analysis get one, one after the other.
type Catalogue struct {
	dir    string // of the sessions
	labDir string // "": none
	tool   string
	now    func() time.Time
	zone   string // of this machine, for a lab that names none
	log    *slog.Logger

	site *Site // that shows it

	kick chan struct{}

	mu       sync.Mutex
	checked  time.Time
	reading  *reading
	next     chan struct{} // closed when a reading replaces the present one
	progress Progress
	failed   map[string]failure // analyses that did not succeed, by session

	ranks    *rankings
	drawing  sync.Mutex // one picture at a time: each goes through a whole recording
	pictures shelf[[]byte]
	results  shelf[*rig.Result]
}

// Progress is how far the analysis of sessions that lack one is.
type Progress struct {
	Done, Of int
	Name     string // what is being analysed; "": nothing is
}

type failure struct {
	key string // of the settings
	why string
}

// NewCatalogue returns the catalogue of a folder of sessions. lab is the lab folder; "": none, and what the
// sessions say of themselves has to do. tool names the program in the
// analyses that it stores, zone this machine's time zone, for a lab that names none.
func NewCatalogue(sessions, lab, tool, zone string, now func() time.Time, log *slog.Logger) *Catalogue {
	return &Catalogue{dir: sessions, labDir: lab, tool: tool, now: now, zone: zone, log: log, kick: make(chan struct{}, 1),
		next: make(chan struct{}), failed: map[string]failure{}, ranks: newRankings()}
}

// Run reads the sessions and ranks the units when asked to, until ctx ends.
func (c *Catalogue) Run(ctx context.Context) error {
	var ranker sync.WaitGroup
	ranker.Go(func() { c.ranks.run(ctx) })
	defer ranker.Wait()
	for {
		r := c.read()
		c.publish(r)
		for len(r.lacking) > 0 && ctx.Err() == nil {
			c.analyseSome(ctx, r)
			left := r.lacking
			r = c.read()
			r.lacking = keep(r.lacking, left)
			c.publish(r)
		}
		c.mu.Lock()
		c.progress = Progress{}
		c.mu.Unlock()
		select {
		case <-ctx.Done():
			return nil
		case <-c.kick:
		}
	}
}

// analyseSome analyses sessions until it is time to show what came of them, or somebody changed something.
func (c *Catalogue) analyseSome(ctx context.Context, r *reading) {
	begun := c.now()
	for len(r.lacking) > 0 && c.now().Sub(begun) < publishEvery && ctx.Err() == nil {
		select {
		case <-c.kick:
			return
		default:
		}
		c.analyse(ctx, r.lacking[0])
		r.lacking = r.lacking[1:]
	}
}

// publishEvery is how long new analyses may stay unseen.
const publishEvery = 3 * time.Second

// keep returns what is lacking now, in the order in which it was.
func keep(now, was []lacking) []lacking {
	found := map[string]lacking{}
	for _, l := range now {
		found[l.name] = l
	}
	var out []lacking
	for _, l := range was {
		if l, ok := found[l.name]; ok {
			out = append(out, l)
			delete(found, l.name)
		}
	}
	for _, l := range now {
		if _, ok := found[l.name]; ok {
			out = append(out, l)
		}
	}
	return out
}

// stale tells whether the folder is no longer what was read, but for new analyses.
func (c *Catalogue) stale(r *reading) bool {
	return print(c.dir, c.labDir) != r.print || c.day(r) != r.day // names are released by days
}

func (c *Catalogue) publish(r *reading) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reading = r
	c.progress.Of = c.progress.Done + len(r.lacking)
	close(c.next)
	c.next = make(chan struct{})
}

// patience is how long a page waits for a new reading before it shows the old one.
const patience = 1500 * time.Millisecond

// current returns the present reading, and whether a newer one is being made. It returns nil only if the
// first reading takes longer than a page may wait.
func (c *Catalogue) current(ctx context.Context) (r *reading, behind bool) {
	c.mu.Lock()
	r, next := c.reading, c.next
	look := r != nil && c.now().Sub(c.checked) >= 300*time.Millisecond
	if look {
		c.checked = c.now()
	}
	c.mu.Unlock()
	if r != nil && (!look || !c.stale(r)) {
		return r, false
	}
	if r != nil {
		select {
		case c.kick <- struct{}{}:
		default:
		}
	}
	t := time.NewTimer(patience)
	defer t.Stop()
	select {
	case <-next:
		c.mu.Lock()
		defer c.mu.Unlock()
		return c.reading, false
	case <-t.C:
	case <-ctx.Done():
	}
	return r, true
}

// Changed is to be called when something was added to a session: it is read anew at once.
func (c *Catalogue) Changed(string) {
	c.mu.Lock()
	c.checked = time.Time{} // whoever comes next looks
	c.mu.Unlock()
	select {
	case c.kick <- struct{}{}:
	default:
	}
}

// Campaign returns the season as it was last scored; nil: not yet. Its standings are not to be asked for:
// that changes it.
func (c *Catalogue) Campaign() *score.Campaign {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.reading == nil {
		return nil
	}
	return c.reading.campaign
}

// Lab returns the lab as it was last read; nil: there is none.
func (c *Catalogue) Lab() *config.Lab {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.labDir == "" || c.reading == nil || c.reading.wrong != "" {
		return nil
	}
	return c.reading.lab
}

// Working returns how far the analysis of sessions is.
func (c *Catalogue) Working() Progress {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.progress
}

// lacking is a session without an analysis under the settings that count.
type lacking struct {
	name string
	set  config.Setup
}

// lasting is a source that ends with its context: a long session is no reason to keep who stops the program waiting.
type lasting struct {
	rig.Source
	ctx context.Context
}

func (l lasting) Next() (rig.Block, error) {
	if err := l.ctx.Err(); err != nil {
		return rig.Block{}, err
	}
	return l.Source.Next()
}

func (c *Catalogue) analyse(ctx context.Context, l lacking) {
	c.mu.Lock()
	c.progress.Name = l.name
	c.mu.Unlock()
	_, err := replay.Keep(filepath.Join(c.dir, l.name), l.set, c.tool, c.now, func(src rig.Source) rig.Source { return lasting{src, ctx} })
	if ctx.Err() != nil {
		return // no failure of the session
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.progress.Done++
	c.progress.Name = ""
	if err != nil {
		c.log.Warn("a session could not be analysed", "session", l.name, "err", err)
		c.failed[l.name] = failure{session.AnalysisKey(l.set), err.Error()}
	}
}

// print tells one state of the sessions and the lab from another without reading them.
func print(dir, labDir string) string {
	h := fnv.New128a()
	add := func(name string) {
		if info, err := os.Stat(name); err == nil {
			fmt.Fprintf(h, "%s %d %d\n", name, info.ModTime().UnixNano(), info.Size())
		}
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err.Error()
	}
	for _, e := range entries {
		if e.IsDir() {
			add(filepath.Join(dir, e.Name(), "manifest.json"))
			add(filepath.Join(dir, e.Name(), "addenda.lp"))
		}
	}
	if labDir != "" {
		_ = filepath.WalkDir(labDir, func(path string, e fs.DirEntry, err error) error { // what does not read is told by reading it
			if err == nil && e.Type().IsRegular() {
				add(path)
			}
			return nil
		})
	}
	return string(h.Sum(nil))
}

// errNotYet is the error of an analysis that is still to be made.
var errNotYet = errors.New("not analysed yet")
