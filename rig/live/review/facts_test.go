package review

import (
	"encoding/json"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"quern/rig"
	"quern/rig/session"
)

// add puts a fact on record that is written as JSON.
func add(t *testing.T, h *Shelf, body string) (Added, error) {
	t.Helper()
	var a Addition
	if err := json.Unmarshal([]byte(body), &a); err != nil {
		t.Fatal(body, err)
	}
	if a.Who == "" {
		a.Who = "ann"
	}
	return h.Append(t.Context(), "s", a)
}

func TestAppend(t *testing.T) {
	told := ""
	h, dir := whole(t, "plain", func(o *Options) { o.Changed = func(name string) { told += name } })
	before, err := h.Result(t.Context(), "s")
	if err != nil {
		t.Fatal(err)
	}
	for i, body := range []string{
		`{"weighing":{"run":1,"role":"charge","gross_g":2912,"vessel":"bowl-1","note":"by  eye"}}`,
		`{"weighing":{"role":"chamber","net_g":44.5,"at_s":60,"drained_s":120}}`,
		`{"check":{"kind":"sound","nominal":94,"found":93.9}}`,
		`{"remark":{"at_s":8.25,"run":1,"text":"a spoon\nfell in"}}`,
		`{"correction":{"target":"weighing.2","new":"41.5","why":"read the wrong line"}}`,
		`{"correction":{"run":1,"target":"void","new":"rig","why":"the tap was forgotten"}}`,
		`{"correction":{"run":1,"target":"measure.trips","new":"2","u":0,"why":"I saw two"}}`,
	} {
		got, err := add(t, h, body)
		if err != nil || got.Fact != i+1 || got.Who != "ann" || len(got.Chain) != 64 {
			t.Fatalf("%s: %+v, %v", body, got, err)
		}
	}
	if told != "sssssss" {
		t.Errorf("told of changes of %q", told)
	}
	b, err := session.OpenFacts(dir)
	if err != nil {
		t.Fatal(err)
	}
	f := b.Facts
	if w := f.Weighings[0]; !w.Typed || w.GrossG != rig.Fig(2912) || w.Vessel != "bowl-1" || w.Note != "by eye" || w.AtS != 3*3600 || w.Who != "ann" || w.NetG.OK {
		t.Errorf("the first weighing is %+v", w)
	}
	if w := f.Weighings[1]; w.AtS != 60 || w.DrainedS != rig.Fig(120) {
		t.Errorf("the second is %+v", w)
	}
	if r := f.Remarks[0]; r.Text != "a spoon fell in" || r.AtS != 8.25 {
		t.Errorf("the remark is %+v", r)
	}
	if k := f.Corrections[0]; k.Old != "44.5" || !k.At.Equal(later) {
		t.Errorf("the first correction is %+v", k)
	}
	if k := f.Corrections[2]; k.Old != "0" || k.U != rig.Fig(0) {
		t.Errorf("the third is %+v, want the old value of no trips", k)
	}
	r, err := h.Result(t.Context(), "s")
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Facts.Weighings) != 2 || len(r.Facts.Checks) != 1 || len(r.Facts.Corrections) != 3 || len(r.Facts.Remarks) != 1 || r.Chain == before.Chain || r.Sealed != before.Sealed {
		t.Errorf("the result has %+v", r.Facts)
	}
	if len(r.Verdicts) != 1 || r.Verdicts[0].Outcome != "void" || r.Verdicts[0].Cause != "rig" || len(r.Verdicts[0].Applied) != 3 {
		t.Errorf("the verdict is %s because of %s, corrections %v", r.Verdicts[0].Outcome, r.Verdicts[0].Cause, r.Verdicts[0].Applied)
	}
	for _, m := range r.Verdicts[0].Measures {
		switch m.Measure {
		case "left_g":
			if m.Value == nil || *m.Value != 41.5 {
				t.Errorf("left in the chamber: %v, want the corrected 41.5", m.Value)
			}
		case "trips":
			if m.Value == nil || *m.Value != 2 || !m.Typed || m.Was == nil || *m.Was != 0 {
				t.Errorf("trips: %+v", m)
			}
		}
	}
}

func TestUndo(t *testing.T) {
	h, dir := whole(t, "plain", nil)
	for _, c := range []struct {
		body string
		// what the last correction then says
		target, new, old string
	}{
		{`{"weighing":{"role":"chamber","net_g":44.5}}`, "", "", ""},
		{`{"correction":{"target":"weighing.1","new":"41.5","why":"x"}}`, "weighing.1", "41.5", "44.5"},
		{`{"correction":{"target":"weighing.1","new":"40","why":"x"}}`, "weighing.1", "40", "44.5"},
		{`{"undo":{"fact":3}}`, "weighing.1", "41.5", "40"},
		{`{"undo":{"fact":1}}`, "weighing.1", "withdrawn", "44.5"},
		{`{"correction":{"run":1,"target":"void","new":"rig","why":"x"}}`, "void", "rig", ""},
		{`{"undo":{"fact":6,"why":"it was not so bad"}}`, "void", "no", "rig"},
		{`{"correction":{"target":"unit","new":"unit-b","why":"x"}}`, "unit", "unit-b", ""},
		{`{"undo":{"fact":8}}`, "unit", "unit-a", "unit-b"},
		{`{"correction":{"run":1,"target":"measure.stalls","new":"3","why":"x"}}`, "measure.stalls", "3", "0"},
		{`{"undo":{"fact":10}}`, "measure.stalls", "0", "3"},
		{`{"correction":{"run":1,"target":"measure.coarse_g","new":"3","why":"x"}}`, "measure.coarse_g", "3", "absent"},
		{`{"undo":{"fact":12}}`, "measure.coarse_g", "absent", "3"},
		{`{"check":{"kind":"scale","nominal":1000,"found":10}}`, "", "", ""},
		{`{"undo":{"fact":14}}`, "check.14", "withdrawn", ""},
		{`{"undo":{"fact":15}}`, "check.14", "counts", "withdrawn"},
	} {
		if _, err := add(t, h, c.body); err != nil {
			t.Fatal(c.body, err)
		}
		if c.target == "" {
			continue
		}
		b, err := session.OpenFacts(dir)
		if err != nil {
			t.Fatal(err)
		}
		k := b.Facts.Corrections[len(b.Facts.Corrections)-1]
		if k.Target != c.target || k.New != c.new || k.Old != c.old || k.Why == "" {
			t.Errorf("%s: %+v, want %s from %q to %q", c.body, k, c.target, c.old, c.new)
		}
	}
}

func TestFactsRefused(t *testing.T) {
	h, dir := whole(t, "plain", nil)
	if _, err := add(t, h, `{"remark":{"text":"first"}}`); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ body, says string }{
		{`{}`, "found 0 facts"},
		{`{"remark":{"text":"x"},"undo":{"fact":1}}`, "found 2 facts"},
		{`{"remark":{"text":" \n"}}`, "found no text"},
		{`{"remark":{"text":"x","at_s":-1}}`, "found at_s -1"},
		{`{"remark":{"text":"x","run":-1}}`, "found run -1"},
		{`{"remark":{"text":"x","who":"eve"}}`, "leave out the rest"},
		{`{"remark":{"text":"` + strings.Repeat("x", 1001) + `"}}`, "at most 1000"},
		{`{"who":"` + strings.Repeat("x", 101) + `","remark":{"text":"x"}}`, "who puts it on record"},
		{`{"weighing":{"role":"charge"}}`, "found no mass"},
		{`{"weighing":{"role":"soup","net_g":1}}`, `found role "soup"`},
		{`{"weighing":{"role":"charge","net_g":2e6}}`, "found net_g 2e+06"},
		{`{"weighing":{"role":"charge","net_g":2,"auto":true}}`, "leave out the rest"},
		{`{"check":{"kind":"taste","found":1}}`, `found kind "taste"`},
		{`{"check":{"kind":"sound","nominal":94}}`, "found no value"},
		{`{"correction":{"target":"void","new":"maybe","why":"x"}}`, `found "maybe" for void`},
		{`{"correction":{"target":"colour","new":"red","why":"x"}}`, `found target "colour"`},
		{`{"correction":{"target":"unit","new":"unit-zz","why":"x"}}`, `found unit "unit-zz"`},
		{`{"correction":{"target":"procedure","new":"none","why":"x"}}`, `found procedure "none"`},
		{`{"correction":{"target":"void","new":"rig"}}`, "found no reason"},
		{`{"correction":{"target":"weighing.9","new":"1","why":"x"}}`, "found no weighing 9"},
		{`{"correction":{"target":"void","new":"rig","why":"x","u":-1}}`, "found u -1"},
		{`{"undo":{"fact":1}}`, "a remark stays"},
		{`{"undo":{"fact":99}}`, "found fact 99"},
	} {
		_, err := add(t, h, c.body)
		var f *Fault
		if !errors.As(err, &f) || f.Status != 400 || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%.60s: %v, want a fault of 400 with %q", c.body, err, c.says)
		}
	}
	b, err := session.OpenFacts(dir)
	if err != nil || len(b.Facts.Remarks) != 1 || len(b.Facts.Corrections)+len(b.Facts.Weighings)+len(b.Facts.Checks) != 0 {
		t.Errorf("what was refused is on record: %+v (%v)", b.Facts, err)
	}
	am, err := session.Amend(dir, "another program", later)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := add(t, h, `{"remark":{"text":"x"}}`); statusOf(err) != 409 {
		t.Errorf("while another program adds facts: %v, want a fault of 409", err)
	}
	if err := am.Close(); err != nil {
		t.Fatal(err)
	}
	problems, err := session.Verify(dir)
	if err != nil || len(problems) > 0 {
		t.Errorf("the session does not verify: %v %v", problems, err)
	}
	if _, err := h.Append(t.Context(), filepath.Join("..", "s"), Addition{}); statusOf(err) != 404 {
		t.Errorf("a path for a name: %v", err)
	}
}
