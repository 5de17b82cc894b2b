package session

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"time"

	"quern/rig"
)

// The addenda are line protocol in batches like the journal, but the comment after each batch also
// chains it to what stands before it:
//
//	# batch n=LINES crc32c=HEX chain=HEX
//
// chain is the SHA-256, in 64 small hexadecimal digits, of the chain value before it (as those 64
// digits; the first batch follows on manifest_sha256) followed by the batch's lines, newlines
// included. So no batch can be altered, dropped, inserted or moved without those from there on
// failing to prove themselves. What the file alone cannot show is that whole batches were cut off
// its end, or that all of it was written anew: whoever publishes figures publishes the last chain
// value (Session.Chain) with them.
//
// Comments inside a batch are proved with it. Two are read: "# added TIME by TOOL" (for people) and
//
//	# aside FILE bytes=N sha256=HEX
//
// which says where the end that a crash left unproved was moved to.
const (
	addendaName      = "addenda.lp"
	addendaTornName  = "addenda.torn-" // and a number from 1
	asidePrefix      = "# aside "
	asideForm        = asidePrefix + "%s bytes=%d sha256=%s\n"
	addendaHeading   = "# Addenda to a sealed session in line protocol; t_s counts seconds from the session's start.\n"
	addendaBeginning = "# The chain begins with manifest_sha256 %s.\n"
)

// addenda is what the file adds to a sealed session, up to the first batch that does not prove itself.
type addenda struct {
	collector
	chain  string         // value after the last good batch
	good   int64          // bytes up to its end
	asides []FileEntry    // torn ends that were set aside
	fault  *rig.FileError // why the reading ended there; nil: at the end
	torn   bool           // the fault is that the end is not whole, as a crash leaves it
	sense  error          // a line that proves itself and is no fact as this program writes it
}

// chained returns the chain value after a batch.
func chained(before string, batch []byte) string {
	h := sha256.New()
	io.WriteString(h, before)
	h.Write(batch)
	return hex.EncodeToString(h.Sum(nil))
}

// appendChainedLine appends the comment that proves a batch of the addenda.
func appendChainedLine(dst []byte, lines int, crc uint32, chain string) []byte {
	dst = appendBatchLine(dst, lines, crc)
	return fmt.Appendf(dst[:len(dst)-1], " chain=%s\n", chain)
}

// readAddenda reads addenda whose chain begins with the value chain. Its memory is bounded by one
// batch and what proves itself.
func readAddenda(name string, r io.Reader, last int, chain string) (addenda, error) {
	a := addenda{collector: collector{last: last}, chain: chain}
	j := newJournal(name, r)
	j.proof = func(text []byte, lines int, crc uint32) []byte {
		return appendChainedLine(nil, lines, crc, chained(a.chain, text))
	}
	err := j.each(func(b batch) error {
		if b.fault != nil {
			b.fault.Byte, b.fault.Do = b.from, "restore it from a copy; what stands before is used"
			a.fault, a.torn = b.fault, b.torn
			return errFault
		}
		a.chain, a.good = chained(a.chain, b.text), b.to
		a.asides = append(a.asides, asidesOf(b.text)...)
		if err := a.batch(name, b); err != nil && a.sense == nil {
			a.sense = err
		}
		return nil
	})
	if err == errFault {
		err = nil
	}
	return a, err
}

// errFault ends the reading of addenda at a batch that does not prove itself.
var errFault = errors.New("a batch that does not prove itself")

// asidesOf returns the files that the comments of a batch name.
func asidesOf(text []byte) []FileEntry {
	var out []FileEntry
	for l := range bytes.Lines(text) {
		var e FileEntry
		if !bytes.HasPrefix(l, []byte(asidePrefix)) {
			continue
		}
		n, err := fmt.Sscanf(string(l), asideForm, &e.Path, &e.Bytes, &e.SHA256)
		if err == nil && n == 3 && isTorn(e.Path) && fmt.Sprintf(asideForm, e.Path, e.Bytes, e.SHA256) == string(l) {
			out = append(out, e)
		}
	}
	return out
}

// isTorn tells whether a file is the set-aside end of addenda.
func isTorn(path string) bool {
	n, ok := strings.CutPrefix(path, addendaTornName)
	return ok && n != "" && n[0] != '0' && strings.Trim(n, "0123456789") == ""
}

// loadAddenda reads the addenda in a folder; last is the number of the last fact before them. A
// session that is not sealed has none.
func loadAddenda(dir string, m Manifest, last int) (addenda, error) {
	none := addenda{collector: collector{last: last}, chain: m.Self}
	name := within(dir, addendaName)
	if m.State != Sealed {
		return none, nil
	}
	f, err := openRegular(name)
	if errors.Is(err, fs.ErrNotExist) {
		return none, nil
	}
	if err != nil {
		return none, unreadable(name, err, "the addenda of the session")
	}
	defer f.Close()
	return readAddenda(name, f, last, m.Self)
}

// warnings returns what reading the addenda found.
func (a addenda) warnings() []rig.Warning {
	switch {
	case a.fault == nil:
		return nil
	case a.torn:
		return []rig.Warning{{Code: AddendaTorn, Text: a.fault.Error() + ": the end is left out"}}
	}
	return []rig.Warning{{Code: AddendaDamaged, Text: a.fault.Error() + ": what follows is left out"}}
}

// added is the comment that says when and by what program the facts after it were added.
func added(now time.Time, tool string) []byte {
	return fmt.Appendf(nil, "# added %s by %s\n", now.UTC().Format(time.RFC3339), tool)
}
