package session

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"

	"quern/rig"
	"quern/rig/line"
)

// FuzzAddenda: whatever the bytes, what proves itself is a beginning of the file, what comes drop by
// drop reads like what comes whole, and each fact that is read prints back and reads the same. To
// get past the chain, the bytes are also tried with a comment that proves them.
func FuzzAddenda(f *testing.F) {
	dir, _ := amended(f)
	text, err := os.ReadFile(filepath.Join(dir, addendaName))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add(text[:len(text)-1])
	f.Add([]byte("# aside addenda.torn-1 bytes=3 sha256=00\n# aside ../../x bytes=3 sha256=00\n"))
	f.Add([]byte(`weighing,role=charge,run=3 fact=1i,net_g_why="x",stable=true,typed=true,t_s=1 0` + "\n" + `check,kind=scale fact=2i,found=1,t_s=1 0`))
	f.Add([]byte(`correction fact=9i,target="void",new="no",made="2031-05-06T07:08:09+01:00" 0`))
	f.Fuzz(func(t *testing.T, text []byte) {
		proved, _ := batched(append(bytes.Clone(text), '\n'), "0")
		for _, b := range [][]byte{text, proved} {
			a, err := readAddenda("fuzz", bytes.NewReader(b), 0, "0")
			if err != nil || a.good < 0 || a.good > int64(len(b)) || (a.fault == nil) != (a.good == int64(len(b))) {
				t.Fatalf("%q: %+v, %v", b, a, err)
			}
			drip, err := readAddenda("fuzz", iotest.OneByteReader(bytes.NewReader(b)), 0, "0")
			if err != nil || drip.good != a.good || drip.chain != a.chain || !reflect.DeepEqual(drip.facts, a.facts) {
				t.Fatalf("%q: whole %+v, drop by drop %+v, %v", b, a, drip, err)
			}
			again, err := readAddenda("fuzz", bytes.NewReader(b[:a.good]), 0, "0")
			if err != nil || again.fault != nil || again.chain != a.chain || !reflect.DeepEqual(again.facts, a.facts) {
				t.Fatalf("%q: the good part reads as %+v, %v", b, again, err)
			}
			var fault *rig.FileError
			if a.sense != nil && (!errors.As(a.sense, &fault) || fault.Line == 0) {
				t.Fatalf("%q: %v names no line", b, a.sense)
			}
			for _, e := range a.asides {
				if !filepath.IsLocal(e.Path) || strings.Contains(e.Path, "/") {
					t.Fatalf("%q: set aside as %q", b, e.Path)
				}
			}
			if got := reread(t, a.facts); !reflect.DeepEqual(got, a.facts) {
				t.Fatalf("%q: %+v came back as %+v", b, a.facts, got)
			}
		}
	})
}

// reread prints facts as the writers do, and reads them. Marks without a number stay without.
func reread(t *testing.T, f rig.Facts) rig.Facts {
	var out rig.Facts
	s := newStamper(Manifest{})
	s.startNs = 0
	take := func(measurement string, p line.Point, err error) {
		var text []byte
		if err == nil {
			text, err = line.Append(nil, p)
		}
		if err == nil {
			p, err = line.Parse(text)
		}
		c := collector{facts: out}
		if err == nil && factOf(text) != measurement {
			err = errors.New("no fact")
		}
		if err == nil {
			err = c.take(measurement, p)
		}
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		out = c.facts
	}
	for _, x := range f.Weighings {
		p, err := s.weighing(x)
		take(weighingName, p, err)
	}
	for _, x := range f.Checks {
		p, err := s.check(x)
		take(checkName, p, err)
	}
	for _, x := range f.Corrections {
		p, err := s.correction(x)
		take(correctionName, p, err)
	}
	for _, x := range f.Remarks {
		p, err := s.remark(x)
		take(markName, p, err)
	}
	return out
}

// FuzzWeighing: what is taken comes back as it was; what is refused leaves nothing.
func FuzzWeighing(f *testing.F) {
	f.Add("bone", "bowl-2", "oz", "who", "note", "why", 1.0, 2.0, uint8(0xff))
	f.Add(`a\`, "\x00", "\xff", "\n# batch n=1", `"`, "", -1.0, 1e300, uint8(0))
	f.Fuzz(func(t *testing.T, item, vessel, shown, who, note, why string, atS, grams float64, bits uint8) {
		w := rig.Weighing{Fact: 1, AtS: atS, Run: int(bits), Role: rig.Charge, Item: item, Vessel: vessel, Shown: shown, Who: who, Note: note,
			GrossG: rig.Fig(grams), TareG: rig.Absent(why), Stable: rig.Mark(bits % 3), Typed: bits&1 > 0, Auto: bits&2 > 0, Shaken: bits&4 > 0}
		var text []byte
		a := &Amendments{chain: "0"}
		a.scribe = scribe{put: a.appendPoint}
		if n, err := a.AppendWeighing(w); err != nil {
			if n != 0 || len(a.pending) > 0 {
				t.Fatalf("refused, but %d, %q", n, a.pending)
			}
			return
		}
		text, _ = batched(a.pending, "0")
		got, err := readAddenda("fuzz", bytes.NewReader(text), 0, "0")
		if err != nil || got.fault != nil || got.sense != nil || !reflect.DeepEqual(got.facts.Weighings, []rig.Weighing{w}) {
			t.Fatalf("%+v came back as %+v, %v", w, got, err)
		}
	})
}

// FuzzAnalysis: what is read prints back and reads the same. To get past the checksum, the bytes are
// also tried as the result of an analysis that proves itself.
func FuzzAnalysis(f *testing.F) {
	text, err := Analysis{Settings: "a", Tool: "t", Made: made, Result: fullResult()}.encode()
	if err != nil {
		f.Fatal(err)
	}
	exact, err := exactJSON(fullResult())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add(exact)
	f.Add([]byte(`{"format":"quern analysis","version":1,"analysis_sha256":"` + strings.Repeat("0", 64) + "\"}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		if a, err := parseAnalysis("fuzz", text); err == nil {
			again, err := a.encode()
			if err != nil {
				t.Fatalf("%q: %v", text, err)
			}
			if b, err := parseAnalysis("fuzz", again); err != nil || !reflect.DeepEqual(a, b) {
				t.Fatalf("%q became %q, %v", text, again, err)
			}
		} else if e := new(rig.FileError); !errors.As(err, &e) {
			t.Fatalf("%q: %v names no file", text, err)
		}
		var r, s rig.Result
		if readExact(text, &r) != nil {
			return
		}
		again, err := exactJSON(r)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		if err := readExact(again, &s); err != nil || !reflect.DeepEqual(r, s) {
			t.Fatalf("%q became %q, %v", text, again, err)
		}
	})
}
