package index

import (
	"database/sql"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"runtime/debug"
	"strings"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

// The unit and the procedure are those that corrections name, and started is in nanoseconds since 1970.
// sum is of the rest of the row: a row proves itself, whatever else of the file is damaged.
const schema = `
CREATE TABLE session (name TEXT PRIMARY KEY, print TEXT, stored_key TEXT, unit TEXT, procedure TEXT, started INTEGER,
	unit_moved INTEGER, procedure_moved INTEGER, by_hand INTEGER, sum INTEGER) WITHOUT ROWID;
CREATE TABLE record (present INTEGER, name TEXT, key TEXT, print TEXT, body BLOB, sum INTEGER, PRIMARY KEY (present, name)) WITHOUT ROWID;`

// entry is what is known of a session before its analysis.
type entry struct {
	name, print string
	storedKey   string // of the analysis under the settings in the session; "" until it was asked for
	unit        string // as corrected
	procedure   string
	started     int64 // ns since 1970

	unitMoved, procedureMoved bool // by a correction
	byHand                    bool // no streams: there is nothing to analyse
}

// body is a record under one kind of settings. Its print is that of the session, then of the analysis.
type body struct {
	name, key, print string
	text             []byte
}

// store is the SQLite file. Whatever goes wrong in it is as if it knew nothing: it only saves time. A nil
// store is one that does not want to know anything either.
type store struct {
	path    string
	version int
	present bool
	db      *sql.DB
	entries map[string]entry // what was read at the start
	bodies  map[string]body
	puts    []*entry
	texts   []*body
	drops   []string
}

// openStore reads the file, if there is one. A file that is no index of this version is removed: it can
// be made again. One that cannot be read just now is left alone.
func openStore(path string, present bool) *store {
	s := &store{path: path, version: version(), present: present}
	s.entries, s.bodies = map[string]entry{}, map[string]body{}
	if _, err := os.Lstat(path); err != nil {
		return s // made when there is something to put into it
	}
	if err := s.load(); err != nil {
		s.closeDB()
		s.entries, s.bodies = map[string]entry{}, map[string]body{}
		if passing(err) {
			return nil
		}
		_ = os.Remove(path) // if it cannot be, nothing can be written either
	}
	return s
}

// Why an index is not used, beside the errors of SQLite.
var (
	errVersion = errors.New("an index of another version")
	errDamaged = errors.New("a row that does not prove itself")
)

// version changes with the program: another one may read a session otherwise. It is above 0.
func version() int {
	of := schema
	if info, ok := debug.ReadBuildInfo(); ok {
		of += info.Main.Version + info.Main.Sum
		for _, s := range info.Settings {
			if strings.HasPrefix(s.Key, "vcs.") {
				of += s.Key + s.Value
			}
		}
	}
	return int(sum(of)&(1<<31-1) | 1)
}

func sum(texts ...string) uint32 {
	var out uint32
	for _, t := range texts {
		out = crc32.Update(out, castagnoli, fmt.Appendf(nil, "%d ", len(t)))
		out = crc32.Update(out, castagnoli, []byte(t))
	}
	return out
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

func (e entry) sum() int64 {
	return int64(sum(e.name, e.print, e.storedKey, e.unit, e.procedure, fmt.Sprint(e.started, e.unitMoved, e.procedureMoved, e.byHand)))
}

func (b body) sum(present bool) int64 {
	return int64(crc32.Update(sum(b.name, b.key, b.print, fmt.Sprint(present, len(b.text))), castagnoli, b.text))
}

// passing tells whether an error may be gone the next time, and says nothing about what the file holds.
func passing(err error) bool {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return false
	}
	switch e.Code() & 0xff { // the rest tells more of the same
	case lib.SQLITE_BUSY, lib.SQLITE_LOCKED, lib.SQLITE_NOMEM, lib.SQLITE_READONLY, lib.SQLITE_INTERRUPT, lib.SQLITE_IOERR,
		lib.SQLITE_FULL, lib.SQLITE_CANTOPEN, lib.SQLITE_PERM, lib.SQLITE_PROTOCOL:
		return true
	}
	return false
}

// openDB opens the file. There is no journal beside it, and nothing waits for the disk: a file that a
// crash leaves half written does not read, or its rows do not prove themselves, and it is made again.
func (s *store) openDB() error {
	db, err := sql.Open("sqlite", "file:"+escaped(s.path)+"?_txlock=immediate&_pragma=busy_timeout(500)&_pragma=page_size(16384)"+
		"&_pragma=synchronous(0)&_pragma=journal_mode(memory)&_pragma=cell_size_check(1)")
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	s.db = db
	return nil
}

func (s *store) load() error {
	if err := s.openDB(); err != nil {
		return err
	}
	var v int
	if err := s.db.QueryRow("PRAGMA user_version").Scan(&v); err != nil {
		return err
	}
	if v == 0 { // so is one that another program is just beginning, but then there is nothing in it
		err := s.db.QueryRow("SELECT count(*) FROM sqlite_master").Scan(&v)
		if err == nil && v > 0 {
			err = errVersion
		}
		return err
	}
	if v != s.version {
		return errVersion
	}
	if err := s.loadEntries(); err != nil {
		return err
	}
	return s.loadBodies()
}

func (s *store) loadEntries() error {
	return s.rows("SELECT name, print, stored_key, unit, procedure, started, unit_moved, procedure_moved, by_hand, sum FROM session", nil, func(rows *sql.Rows) error {
		var e entry
		var sum int64
		if err := rows.Scan(&e.name, &e.print, &e.storedKey, &e.unit, &e.procedure, &e.started, &e.unitMoved, &e.procedureMoved, &e.byHand, &sum); err != nil {
			return err
		}
		if sum != e.sum() {
			return errDamaged
		}
		s.entries[e.name] = e
		return nil
	})
}

func (s *store) loadBodies() error {
	return s.rows("SELECT name, key, print, body, sum FROM record WHERE present = ?", []any{s.present}, func(rows *sql.Rows) error {
		var b body
		var sum int64
		if err := rows.Scan(&b.name, &b.key, &b.print, &b.text, &sum); err != nil {
			return err
		}
		if sum != b.sum(s.present) {
			return errDamaged
		}
		s.bodies[b.name] = b
		return nil
	})
}

func (s *store) rows(query string, args []any, each func(*sql.Rows) error) error {
	rows, err := s.db.Query(query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := each(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (s *store) entry(name string) (entry, bool) {
	if s == nil {
		return entry{}, false
	}
	e, ok := s.entries[name]
	return e, ok
}

func (s *store) body(name string) (body, bool) {
	b, ok := s.bodies[name]
	return b, ok
}

// put takes what was read; nil is nothing new.
func (s *store) put(e *entry, b *body) {
	if s == nil {
		return
	}
	if e != nil && s.entries[e.name] != *e {
		s.puts = append(s.puts, e)
	}
	if b != nil {
		s.texts = append(s.texts, b)
	}
}

// keep forgets the sessions that are no longer there.
func (s *store) keep(names []string) {
	if s == nil {
		return
	}
	there := map[string]bool{}
	for _, n := range names {
		there[n] = true
	}
	for n := range s.entries {
		if !there[n] {
			s.drops = append(s.drops, n)
		}
	}
}

// close writes what is new in one transaction.
func (s *store) close() {
	if s == nil {
		return
	}
	defer s.closeDB()
	if len(s.puts)+len(s.texts)+len(s.drops) == 0 {
		return
	}
	if err := s.write(); err != nil && !passing(err) {
		s.closeDB()
		_ = os.Remove(s.path)
	}
}

func (s *store) write() error {
	if s.db == nil {
		if err := s.openDB(); err != nil {
			return err
		}
	}
	tx, err := s.db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback() // nothing after Commit
	var v int
	if err := tx.QueryRow("PRAGMA user_version").Scan(&v); err != nil {
		return err
	}
	if v == 0 {
		_, err = tx.Exec(fmt.Sprintf("PRAGMA user_version = %d;", s.version) + schema)
	} else if v != s.version { // since it was read, by another program
		return errVersion
	}
	if err == nil {
		err = s.writeRows(tx)
	}
	if err != nil {
		return err
	}
	return tx.Commit()
}

func (s *store) writeRows(tx *sql.Tx) error {
	entries, err := tx.Prepare("INSERT OR REPLACE INTO session VALUES (?,?,?,?,?,?,?,?,?,?)")
	if err != nil {
		return err
	}
	for _, e := range s.puts {
		if _, err := entries.Exec(e.name, e.print, e.storedKey, e.unit, e.procedure, e.started, e.unitMoved, e.procedureMoved, e.byHand, e.sum()); err != nil {
			return err
		}
	}
	bodies, err := tx.Prepare("INSERT OR REPLACE INTO record VALUES (?,?,?,?,?,?)")
	if err != nil {
		return err
	}
	for _, b := range s.texts {
		if _, err := bodies.Exec(s.present, b.name, b.key, b.print, b.text, b.sum(s.present)); err != nil {
			return err
		}
	}
	for _, n := range s.drops {
		for _, table := range []string{"session", "record"} {
			if _, err := tx.Exec("DELETE FROM "+table+" WHERE name = ?", n); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *store) closeDB() {
	if s.db != nil {
		_ = s.db.Close()
		s.db = nil
	}
}

// escaped writes a path into a URI.
func escaped(path string) string {
	return strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(path)
}
