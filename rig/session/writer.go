package session

import (
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"os"

	"quern/rig"
	"quern/rig/line"
)

// Writer writes one session. After an error of the disk the session has ended: what the disk holds
// is unknown, a second try would lie, and every later call returns that first error. A Writer is not
// safe for use by several goroutines at once.
type Writer struct {
	scribe
	disk     disk
	dir      string // where the session is to stand
	root     string // where it stands now
	live     bool
	manifest Manifest
	lock     *os.File // held while it is recorded: whoever recovers what was interrupted leaves it alone
	journal  file
	tracks   []*track
	going    *syncing // beside; nil: none
	pending  []byte   // lines not yet in the journal
	lines    int      // their number
	err      error    // the first error of the disk
	ended    bool     // sealed, closed or aborted
}

var errEnded = errors.New("the session has ended: nothing can be added to it")

// AppendBlock keeps a block of one of the streams. Samples must be steps of the stream's encoding,
// so that a replay gets what came in. Readings of a channel come in order of time.
func (w *Writer) AppendBlock(b rig.Block) error {
	if err := w.usable(); err != nil {
		return err
	}
	t := w.track(b.Channel)
	switch {
	case t == nil:
		return fmt.Errorf("session %s: a block of channel %q, which the session does not have", w.dir, b.Channel)
	case t.entry.Form == rig.Waveform && len(b.Readings) > 0, t.entry.Form != rig.Waveform && len(b.Samples) > 0:
		return fmt.Errorf("session %s: a block of %q that is not of form %q", w.dir, b.Channel, t.entry.Form)
	case t.entry.Form == rig.Waveform:
		return w.appendSamples(t, b)
	}
	for _, r := range b.Readings {
		if err := w.appendReading(t, r); err != nil {
			return err
		}
	}
	return nil
}

// AppendReading keeps one reading of a channel.
func (w *Writer) AppendReading(c rig.Channel, r rig.Reading) error {
	return w.AppendBlock(rig.Block{Channel: c, Readings: []rig.Reading{r}})
}

// AppendEvent keeps an event; run counts from 1, 0 if it belongs to none.
func (w *Writer) AppendEvent(run int, e rig.Event) error {
	p, err := w.stamp.event(run, e)
	return w.appendPoint(p, err)
}

// AppendFigures keeps figures of one instant under a measurement's name, such as levels as they were
// shown. Absent ones are left out; if all are absent, nothing is written.
func (w *Writer) AppendFigures(measurement string, atS float64, run int, all ...Named) error {
	fields := figures(all...)
	if len(fields) == 0 {
		return w.usable()
	}
	if reserved(measurement) || w.track(rig.Channel(measurement)) != nil {
		return fmt.Errorf("session %s: figures under the name %q, which the journal uses otherwise", w.dir, measurement)
	}
	p, err := w.stamp.point(measurement, atS, []line.Tag{runTag(run)}, fields)
	return w.appendPoint(p, err)
}

// Drop stops keeping the samples of all waveforms, so that the journal has the room that is left. What
// was kept stays; the warning is added to what the session states.
func (w *Writer) Drop(warning rig.Warning) error {
	for _, t := range w.tracks {
		t.drop = t.drop || t.file != nil
	}
	return w.AddWarning(warning)
}

// anchorGaps says of every waveform whose source was gone at the end up to when that is known.
func (w *Writer) anchorGaps() error {
	for _, t := range w.tracks {
		if t.file == nil || t.drop || t.goneS <= t.at.time(t.frames, t.entry.RateHz) {
			continue
		}
		p, err := w.stamp.anchor(t.entry.Channel, t.frames, t.goneS)
		if err := w.appendPoint(p, err); err != nil {
			return err
		}
	}
	return nil
}

// AddWarning adds to what the session states of itself.
func (w *Writer) AddWarning(warning rig.Warning) error {
	if err := w.usable(); err != nil {
		return err
	}
	w.manifest.Warnings = append(w.manifest.Warnings, warning)
	if !w.live {
		return nil // the manifest is written when the session is sealed
	}
	return w.disked(manifestName, w.writeManifest())
}

func (w *Writer) appendReading(t *track, r rig.Reading) error {
	if r.AtS < t.lastS {
		return fmt.Errorf("session %s: a reading of %q at %v s after one at %v s", w.dir, t.entry.Channel, r.AtS, t.lastS)
	}
	p, err := w.stamp.reading(t.entry.Stream(), t.field, r)
	if err = w.appendPoint(p, err); err == nil {
		t.lastS = r.AtS
	}
	return err
}

// appendPoint adds a point to the batch. What cannot be written is refused and harms nothing.
func (w *Writer) appendPoint(p line.Point, err error) error {
	if e := w.usable(); e != nil {
		return e
	}
	var text []byte
	if err == nil {
		text, err = line.Append(w.pending, p)
	}
	if err == nil && len(text)-len(w.pending) > maxPoint {
		err = fmt.Errorf("%s: a line of more than 64 KiB", p.Measurement)
	}
	if err != nil {
		return fmt.Errorf("session %s: %w", w.dir, err)
	}
	w.pending = text
	w.lines++
	if len(w.pending) >= fullBatch && (w.going == nil || len(w.pending) >= longBatch) {
		return w.writeBatch()
	}
	return nil
}

func (w *Writer) add(text []byte, lines int) {
	w.pending = append(w.pending, text...)
	w.lines += lines
}

// writeBatch puts the pending lines into the journal with the comment that proves them.
func (w *Writer) writeBatch() error {
	if err := w.settle(); err != nil {
		return err
	}
	_, err := w.journal.Write(w.proved())
	w.pending = w.pending[:0]
	return w.disked(journalName, err)
}

// proved returns the pending lines with the comment that proves them.
func (w *Writer) proved() []byte {
	if w.lines > 0 {
		w.pending = appendBatchLine(w.pending, w.lines, crc32.Checksum(w.pending, castagnoli))
		w.lines = 0
	}
	return w.pending
}

func (w *Writer) track(c rig.Channel) *track {
	for _, t := range w.tracks {
		if t.entry.Channel == c {
			return t
		}
	}
	return nil
}

func (w *Writer) usable() error {
	if w.err != nil {
		return w.err
	}
	if w.ended {
		return errEnded
	}
	return nil
}

// disked keeps the first error of the disk.
func (w *Writer) disked(name string, err error) error {
	if err != nil && w.err == nil {
		w.err = unwritable(within(w.dir, name), err)
	}
	return w.err
}

// appendSamples writes samples to the channel's recording. Where they do not follow on what came
// before, an anchor in the journal says when they begin.
func (w *Writer) appendSamples(t *track, b rig.Block) error {
	if len(b.Samples) == 0 {
		t.goneS = max(t.goneS, b.StartS)
		return nil
	}
	if t.drop {
		return nil
	}
	for i, s := range b.Samples {
		if !t.exact(s) {
			return fmt.Errorf("session %s: sample %d of %q is %v, which %s does not hold exactly: choose another encoding",
				w.dir, t.frames+int64(i), b.Channel, s, t.entry.Encoding)
		}
	}
	if due := t.at.time(t.frames, t.entry.RateHz); math.Float64bits(due) != math.Float64bits(b.StartS) {
		if b.StartS < t.at.atS || b.StartS < 0 {
			return fmt.Errorf("session %s: samples of %q at %v s after some at %v s", w.dir, b.Channel, b.StartS, t.at.atS)
		}
		p, err := w.stamp.anchor(b.Channel, t.frames, b.StartS)
		if err := w.appendPoint(p, err); err != nil {
			return err
		}
		t.at = anchor{frame: t.frames, atS: b.StartS}
	}
	t.frames += int64(len(b.Samples))
	return w.disked(t.entry.File, t.wave.Write(b.Samples))
}
