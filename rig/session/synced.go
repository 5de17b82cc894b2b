package session

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"io"

	"quern/rig"
	"quern/rig/wave"
)

// What a sync made last of the recordings stands in the journal too, as a comment in the batch that it wrote:
//
//	# synced CHANNEL from=FRAME to=FRAME crc32c=HEX
//
// crc32c is the CRC-32C of the samples from one frame up to the other as they stand in the file. A loss of power can
// leave a file longer than what was written of it, with zeros for the rest, and the samples themselves cannot tell
// those from silence. So what comes after the last stretch that proves itself is not used.
const syncedPrefix = "# synced "

// lasting is what one sync made last of a recording.
type lasting struct {
	from, to int64 // frames
	crc      uint32
}

func appendSynced(dst []byte, c rig.Channel, s lasting) []byte {
	return fmt.Appendf(dst, "%s%s from=%d to=%d crc32c=%08x\n", syncedPrefix, c, s.from, s.to, s.crc)
}

// readSynced is the inverse of appendSynced.
func readSynced(text []byte) (c rig.Channel, s lasting, ok bool) {
	_, err := fmt.Sscanf(string(text), syncedPrefix+"%s from=%d to=%d crc32c=%08x\n", &c, &s.from, &s.to, &s.crc)
	return c, s, err == nil && 0 <= s.from && s.from <= s.to
}

// noteSynced takes what a good batch says of the recordings.
func (s *Session) noteSynced(b batch) {
	if !bytes.Contains(b.text, []byte(syncedPrefix)) {
		return
	}
	for text := range bytes.Lines(b.text) {
		if !bytes.HasPrefix(text, []byte(syncedPrefix)) {
			continue
		}
		if c, x, ok := readSynced(text); ok {
			if s.synced == nil {
				s.synced = map[rig.Channel][]lasting{}
			}
			s.synced[c] = append(s.synced[c], x)
		}
	}
}

// proven returns how many frames of an interrupted session's recording were synced: up to the end of the last
// stretch that proves itself. Of a session that is sealed, or whose journal says nothing of syncs, it is all.
func (s *Session) proven(c rig.Channel, r *wave.Reader) (int64, error) {
	all := s.synced[c]
	if s.manifest.State == Sealed || len(all) == 0 {
		return r.Frames(), nil
	}
	frame := int64(r.Format().FrameBytes())
	for i := len(all) - 1; i >= 0; i-- {
		x := all[i]
		if x.to > r.Frames() {
			continue
		}
		h := crc32.New(castagnoli)
		if _, err := io.Copy(h, io.NewSectionReader(r.Data(), x.from*frame, (x.to-x.from)*frame)); err != nil {
			return 0, err
		}
		if h.Sum32() == x.crc {
			return x.to, nil
		}
	}
	return 0, nil
}

// summed is the file of a recording that sums up what is written to it.
type summed struct {
	file
	crc uint32
}

func (f *summed) Write(b []byte) (int, error) {
	n, err := f.file.Write(b)
	f.crc = crc32.Update(f.crc, castagnoli, b[:n])
	return n, err
}

// sayDone says in the journal's next batch what has been synced of a recording since the last time.
func (w *Writer) sayDone(t *track) {
	x := lasting{t.said, t.wave.Frames(), t.file.crc}
	if x.to == x.from && x.to > 0 {
		return
	}
	t.said, t.file.crc = x.to, 0
	w.add(appendSynced(nil, t.entry.Channel, x), 1)
}

// setAside moves what no sync made last out of the recordings of an interrupted session, to recordings/CHANNEL.wav.torn-1
// (or the next free number), and says so in words. What cannot be read is left as it is: whoever opens it is told.
func (s *Session) setAside(d disk) (said []string, err error) {
	for _, e := range s.manifest.Streams {
		if e.Form != rig.Waveform {
			continue
		}
		rec, err := s.openRecording(e)
		if err != nil || rec.empty {
			continue
		}
		name, from := within(s.dir, e.File), rec.bytes(rec.frames)
		info, err := rec.file.Stat()
		if cerr := rec.Close(); err == nil {
			err = cerr
		}
		if err != nil {
			return nil, unreadable(name, err, "the recording of the "+string(e.Channel))
		}
		if rec.frames == rec.wave.Frames() {
			continue
		}
		to := info.Size() // with what is no whole frame
		aside, err := freeTorn(s.dir, e.File+tornEnding)
		if err != nil {
			return nil, err
		}
		err = writeWhole(d, within(s.dir, aside), func(f io.Writer) error { return copySpans(f, name, []span{{from, to}}) })
		if err == nil {
			err = d.Cut(name, from)
		}
		if err != nil {
			return nil, unwritable(name, err)
		}
		said = append(said, fmt.Sprintf("the last %.2f s of %s, which no sync had made last, stand in %s, %s",
			float64(rec.wave.Frames()-rec.frames)/e.RateHz, e.File, aside, rig.Count(to-from, "byte")))
	}
	return said, nil
}
