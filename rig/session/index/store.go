package index

import (
	"database/sql"
	"os"

	_ "modernc.org/sqlite" // the driver

	"quern/rig"
	"quern/rig/session"
)

// schema carries a version: an index of another one is made anew.
const schema = `
PRAGMA user_version = 2;
CREATE TABLE session (name TEXT PRIMARY KEY, print TEXT, stored_key TEXT, unit TEXT, procedure TEXT, started INTEGER, moved INTEGER) WITHOUT ROWID;
CREATE TABLE record (name TEXT, key TEXT, print TEXT, body BLOB, PRIMARY KEY (name, key)) WITHOUT ROWID;`

const schemaVersion = 2

// entry is what is known of a session before its analysis.
type entry struct {
	name, print, storedKey, unit, procedure string
	started                                 int64
	moved                                   bool // a correction names another unit or procedure
}

// store is the SQLite file. Whatever goes wrong in it is as if it knew nothing: it only saves time.
type store struct {
	path    string
	db      *sql.DB
	entries map[string]entry
	records map[[2]string]kept // what was read at the start
	puts    []entry
	bodies  []body
	drops   []string
}

type kept struct {
	print string
	body  []byte
}

type body struct {
	name, key, print string
	text             []byte
}

// openStore opens the file, or makes a new one if there is none or it is no index of this version.
func openStore(path string) (*store, error) {
	s := &store{path: path}
	err := s.load()
	if err != nil {
		s.closeDB()
		os.Remove(path) // it can be made again
		s = &store{path: path}
		err = s.load()
	}
	if err != nil {
		s.closeDB()
		return nil, err
	}
	return s, nil
}

func (s *store) load() error {
	s.entries, s.records = map[string]entry{}, map[[2]string]kept{}
	if _, err := os.Stat(s.path); err != nil {
		return nil // made when there is something to put into it
	}
	if err := s.openDB(); err != nil {
		return err
	}
	var version int
	if err := s.db.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		return err
	}
	if version != schemaVersion {
		return os.ErrInvalid
	}
	if err := s.loadEntries(); err != nil {
		return err
	}
	return s.loadRecords()
}

func (s *store) openDB() error {
	db, err := sql.Open("sqlite", "file:"+escaped(s.path)+"?_pragma=synchronous(0)&_pragma=journal_mode(memory)&_pragma=busy_timeout(2000)")
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	s.db = db
	return nil
}

func (s *store) loadEntries() error {
	rows, err := s.db.Query("SELECT name, print, stored_key, unit, procedure, started, moved FROM session")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var e entry
		if err := rows.Scan(&e.name, &e.print, &e.storedKey, &e.unit, &e.procedure, &e.started, &e.moved); err != nil {
			return err
		}
		s.entries[e.name] = e
	}
	return rows.Err()
}

func (s *store) loadRecords() error {
	rows, err := s.db.Query("SELECT name, key, print, body FROM record")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var name, key string
		var k kept
		if err := rows.Scan(&name, &key, &k.print, &k.body); err != nil {
			return err
		}
		s.records[[2]string{name, key}] = k
	}
	return rows.Err()
}

func (s *store) entry(name string) (entry, bool) {
	e, ok := s.entries[name]
	return e, ok
}

func (s *store) put(e entry) {
	s.entries[e.name] = e
	s.puts = append(s.puts, e)
}

// record returns a record if what it was made of has not changed.
func (s *store) record(name, key, print string) (rig.Record, bool) {
	k, ok := s.records[[2]string{name, key}]
	if !ok || k.print != print {
		return rig.Record{}, false
	}
	rec, err := session.DecodeRecord(k.body)
	return rec, err == nil
}

func (s *store) putRecord(name, key, print string, rec rig.Record) {
	if text, err := session.EncodeRecord(rec); err == nil {
		s.bodies = append(s.bodies, body{name, key, print, text})
	}
}

// keep forgets the sessions that are no longer there.
func (s *store) keep(names []string) {
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
	defer s.closeDB()
	if len(s.puts)+len(s.bodies)+len(s.drops) == 0 {
		return
	}
	if s.write() != nil {
		s.closeDB()
		os.Remove(s.path)
	}
}

func (s *store) write() error {
	if s.db == nil {
		if err := s.openDB(); err != nil {
			return err
		}
		if _, err := s.db.Exec(schema); err != nil {
			return err
		}
	}
	tx, err := s.db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	entries, err := tx.Prepare("INSERT OR REPLACE INTO session VALUES (?,?,?,?,?,?,?)")
	if err != nil {
		return err
	}
	for _, e := range s.puts {
		if _, err := entries.Exec(e.name, e.print, e.storedKey, e.unit, e.procedure, e.started, e.moved); err != nil {
			return err
		}
	}
	bodies, err := tx.Prepare("INSERT OR REPLACE INTO record VALUES (?,?,?,?)")
	if err != nil {
		return err
	}
	for _, b := range s.bodies {
		if _, err := bodies.Exec(b.name, b.key, b.print, b.text); err != nil {
			return err
		}
	}
	for _, n := range s.drops {
		if _, err := tx.Exec("DELETE FROM session WHERE name = ?", n); err != nil {
			return err
		}
		if _, err := tx.Exec("DELETE FROM record WHERE name = ?", n); err != nil {
			return err
		}
	}
	return tx.Commit()
}

func (s *store) closeDB() {
	if s.db != nil {
		s.db.Close()
		s.db = nil
	}
}

// escaped writes a path into a URI.
func escaped(path string) string {
	out := ""
	for _, c := range []byte(path) {
		switch c {
		case '?', '#', '%':
			out += "%" + string("0123456789ABCDEF"[c>>4]) + string("0123456789ABCDEF"[c&15])
		default:
			out += string(c)
		}
	}
	return out
}
