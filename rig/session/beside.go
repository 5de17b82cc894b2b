package session

// syncing is a sync that has begun: what is to be made last, in the order in which it is.
type syncing struct {
	recordings []*track
	files      []file // theirs
	journal    file
	batch      []byte // that proves it; none if nothing is new
	done       chan struct{}
	name       string // of the file that was not taken
	err        error
}

// begin hands to the system what was appended so far, and takes the batch that proves it.
func (w *Writer) begin() (*syncing, error) {
	s := &syncing{journal: w.journal, done: make(chan struct{})}
	for _, t := range w.tracks {
		if t.file == nil {
			continue
		}
		if err := w.disked(t.entry.File, t.wave.Flush()); err != nil {
			return nil, err
		}
		w.sayDone(t)
		s.recordings, s.files = append(s.recordings, t), append(s.files, t.file)
	}
	s.batch, w.pending = w.proved(), nil
	return s, nil
}

// last makes it last. The samples first: an anchor in the journal must not speak of frames that are not there.
func (s *syncing) last() {
	defer close(s.done)
	for i, f := range s.files {
		if s.err = f.Sync(); s.err != nil {
			s.name = s.recordings[i].entry.File
			return
		}
	}
	s.name = journalName
	if len(s.batch) > 0 {
		_, s.err = s.journal.Write(s.batch)
	}
	if s.err == nil {
		s.err = s.journal.Sync()
	}
}

// Sync makes everything appended so far last: it survives the loss of power from here on.
func (w *Writer) Sync() error {
	if err := w.settle(); err != nil {
		return err
	}
	s, err := w.begin()
	if err != nil {
		return err
	}
	s.last()
	return w.disked(s.name, s.err)
}

// SyncBeside begins a sync and does not wait for it: a disk that takes seconds holds up nobody who watches. What is
// appended meanwhile is in the next one. While one goes on no other begins, and false is returned. An error is that of
// the sync before. over is called when it is over, by another goroutine.
func (w *Writer) SyncBeside(over func()) (begun bool, err error) {
	if w.going != nil {
		select {
		case <-w.going.done:
		default:
			return false, w.usable()
		}
	}
	if err := w.settle(); err != nil {
		return false, err
	}
	s, err := w.begin()
	if err != nil {
		return false, err
	}
	w.going = s
	go func() {
		s.last()
		over()
	}()
	return true, nil
}

// settle waits until no sync goes on beside.
func (w *Writer) settle() error {
	if s := w.going; s != nil {
		<-s.done
		w.going = nil
		_ = w.disked(s.name, s.err) // kept in err
	}
	return w.usable()
}
