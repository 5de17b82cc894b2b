package session

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"quern/rig"
)

// fillAll sets everything below v to something of its own: figures are present with many digits,
// present and 0, absent with a reason, and absent without, in turn.
func fillAll(v reflect.Value, n *int) {
	*n++
	if v.Type() == figureType {
		f := []rig.Figure{rig.Fig(float64(*n) / 7), rig.Fig(math.Copysign(0, -1)), rig.Absent(fmt.Sprintf("<why> %d", *n)), {}, rig.Fig(1e300)}[*n%5]
		v.Set(reflect.ValueOf(f))
		return
	}
	if v.Type() == timeType {
		v.Set(reflect.ValueOf(made.Add(time.Duration(*n))))
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(fmt.Sprintf("µ <%d> \"\\\u2028", *n))
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		fillAll(v.Index(0), n)
		fillAll(v.Index(1), n)
	case reflect.Struct:
		for i := range v.NumField() {
			fillAll(v.Field(i), n)
		}
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int8:
		v.SetInt(int64(*n % 100))
	case reflect.Float64:
		v.SetFloat(float64(*n) / 7)
	}
}

// Every part of a record comes back exactly.
func TestExactRecord(t *testing.T) {
	var full rig.Record
	n := 0
	fillAll(reflect.ValueOf(&full).Elem(), &n)
	for _, r := range []rig.Record{{}, full} {
		text, err := EncodeRecord(r)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := DecodeRecord(text); err != nil || !reflect.DeepEqual(got, r) {
			t.Errorf("%s\ncame back as %+v, %v", text, got, err)
		}
		for cut := range text {
			if _, err := DecodeRecord(text[:cut]); err == nil {
				t.Fatalf("cut %d was read", cut)
			}
		}
	}
	full.Facts.Weighings[0].AtS = math.NaN()
	if _, err := EncodeRecord(full); err == nil {
		t.Error("a time that is no number was taken")
	}
}

func fullResult() (r rig.Result) {
	n := 0
	fillAll(reflect.ValueOf(&r).Elem(), &n)
	return r
}

// Every part of a result comes back exactly, digits and reasons, and empty lists as they were. It
// fails when a result gets a part of a kind that the exact form does not know.
func TestExactResult(t *testing.T) {
	for _, r := range []rig.Result{{}, fullResult(), {Runs: []rig.Run{}, Warnings: []rig.Warning{}}, {Runs: []rig.Run{{}}}} {
		text, err := exactJSON(r)
		if err != nil {
			t.Fatal(err)
		}
		var got rig.Result
		if err := readExact(text, &got); err != nil || !reflect.DeepEqual(got, r) {
			t.Errorf("%s\ncame back as %+v, %v", text, got, err)
		}
	}
	r := rig.Result{Session: "s", Runs: []rig.Run{{StartS: rig.Fig(1.0 / 3), EndS: rig.Absent("no-clamp")}}}
	text, err := exactJSON(r)
	if want := `{"session":"s","unit":"","procedure":"","runs":[{"start_s":0.3333333333333333,"end_s":"no-clamp","elapsed_s":null,`; err != nil || !strings.HasPrefix(string(text), want) {
		t.Errorf("got %s, %v, want %s...", text, err, want)
	}
	for _, bad := range []rig.Result{{Session: "\xff"}, {Runs: []rig.Run{{StartS: rig.Figure{V: math.NaN(), OK: true}}}}} {
		if _, err := exactJSON(bad); err == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
	for _, bad := range []string{``, `[]`, `null`, string(text) + "{}", strings.Replace(string(text), "0.3333333333333333", "true", 1),
		strings.Replace(string(text), "0.3333333333333333", "1e999", 1), strings.Replace(string(text), `"unit"`, `"Unit"`, 1),
		strings.Replace(string(text), `"unit"`, `"more":1,"unit"`, 1), strings.Replace(string(text), `"warnings":null`, `"warnings":"x"`, 1)} {
		var got rig.Result
		if err := readExact([]byte(bad), &got); err == nil {
			t.Errorf("%s was read", bad)
		}
	}
}

// analysed returns a sealed session with the analysis of an invented result.
func analysed(t testing.TB) (dir string, a Analysis) {
	t.Helper()
	dir, _, _ = byHand(t, rig.Facts{})
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	a = s.Analysed(testSetup(), "quern test", made, fullResult())
	if err := StoreAnalysis(dir, a); err != nil {
		t.Fatal(err)
	}
	return dir, a
}

func TestAnalysisIsKept(t *testing.T) {
	dir, a := analysed(t)
	key := AnalysisKey(testSetup())
	if key != SettingsSum(testSetup())[:16] || a.Key() != key {
		t.Errorf("got keys %s and %s of %s", key, a.Key(), SettingsSum(testSetup()))
	}
	got, err := LoadAnalysis(dir, key)
	if err != nil || !reflect.DeepEqual(got, a) {
		t.Errorf("got %+v, %v, want %+v", got, err, a)
	}
	// Another version takes its place; other settings stand beside it.
	a.Tool, a.Made = "quern test 2", made.Add(time.Hour)
	other := a
	set := testSetup()
	set.Bench.Microphone.FullScaleDB++
	other.Settings, other.SettingsSHA256 = string(set.TOML()), SettingsSum(set)
	for _, x := range []Analysis{a, other} {
		if err := StoreAnalysis(dir, x); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []Analysis{a, other} {
		if got, err := LoadAnalysis(dir, want.Key()); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("got %+v, %v, want %+v", got, err, want)
		}
	}
	if problems, err := Verify(dir); err != nil || len(problems) > 0 {
		t.Errorf("Verify: got %v, %v", problems, err)
	}
	b, err := OpenFacts(dir)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := b.Analysis(other.Key()); err != nil || !reflect.DeepEqual(got, other) {
		t.Errorf("got %+v, %v", got, err)
	}
	for _, key := range []string{"0123456789abcdef", "../../manifest", ""} {
		if _, err := LoadAnalysis(dir, key); err == nil || len(key) == 16 && !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%q: got %v", key, err)
		}
	}
}

func TestStaleAnalysis(t *testing.T) {
	dir, a := analysed(t)
	other, _, _ := byHand(t, rig.Facts{Remarks: []rig.Remark{{Text: "x"}}})
	if err := StoreAnalysis(other, a); !errors.Is(err, ErrStale) {
		t.Errorf("got %v, want a refusal of an analysis of another session", err)
	}
	if err := StoreAnalysis(interrupted(t), Analysis{}); !errors.Is(err, ErrStale) {
		t.Errorf("got %v, want a refusal of a session that is not sealed", err)
	}
	if err := os.Rename(filepath.Join(dir, analysesName), filepath.Join(other, analysesName)); err != nil {
		t.Fatal(err)
	}
	if got, err := LoadAnalysis(other, a.Key()); !errors.Is(err, ErrStale) || !reflect.DeepEqual(got, Analysis{}) {
		t.Errorf("got %+v, %v, want ErrStale", got, err)
	}
}

// Every changed byte of an analysis is found; what is no analysis is an unknown file.
func TestDamagedAnalysis(t *testing.T) {
	dir, a := analysed(t)
	name := filepath.Join(dir, analysesName, a.Key()+".json")
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	for at := range text {
		bad := bytes.Clone(text)
		bad[at] ^= 1 << (at % 8)
		if _, err := parseAnalysis(name, bad); err == nil {
			t.Fatalf("byte %d: %s was read", at, bad)
		}
	}
	for cut := range text {
		if _, err := parseAnalysis(name, text[:cut]); err == nil {
			t.Fatalf("cut %d was read", cut)
		}
	}
	edit(t, dir, analysesName+"/"+a.Key()+".json", func(b []byte) []byte { return b[:len(b)-1] })
	if err := os.WriteFile(filepath.Join(dir, analysesName, "0123456789abcdef.json"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	notes := filepath.Join(dir, analysesName, "notes.json")
	if err := os.WriteFile(notes, text, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{a.Key(), "0123456789abcdef"} {
		if got, err := LoadAnalysis(dir, key); err == nil {
			t.Errorf("%s: got %+v, want an error", key, got)
		}
	}
	problems, err := Verify(dir)
	if err != nil || len(problems) != 3 || problems[2].File != notes || problems[1].File != name && problems[0].File != name {
		t.Errorf("got %v, %v, want three problems", problems, err)
	}
	if err := StoreAnalysis(dir, a); err != nil { // mends it
		t.Fatal(err)
	}
	if _, err := LoadAnalysis(dir, a.Key()); err != nil {
		t.Error(err)
	}
}

// The power goes at every operation of storing: there is the old analysis, the new one, or none.
func TestCrashInStoring(t *testing.T) {
	for n := 0; ; n++ {
		dir, a := analysed(t)
		old := a
		if n%2 == 1 { // none before
			if err := os.RemoveAll(filepath.Join(dir, analysesName)); err != nil {
				t.Fatal(err)
			}
		}
		a.Tool = "quern test 2"
		d := &failing{left: n / 2}
		err := storeAnalysis(d, dir, a)
		if d.gone == (err == nil) {
			t.Fatalf("operation %d: got %v, power gone %v", n, err, d.gone)
		}
		got, lerr := LoadAnalysis(dir, a.Key())
		ok := lerr == nil && (got.Tool == a.Tool || n%2 == 0 && got.Tool == old.Tool) || errors.Is(lerr, fs.ErrNotExist) && n%2 == 1
		if !ok || err == nil && got.Tool != a.Tool {
			t.Fatalf("operation %d: got tool %q, %v after %v", n, got.Tool, lerr, err)
		}
		if err := StoreAnalysis(dir, a); err != nil {
			t.Fatalf("operation %d: %v", n, err)
		}
		if problems, err := Verify(dir); err != nil || len(problems) > 0 {
			t.Fatalf("operation %d: Verify got %v, %v", n, problems, err)
		}
		if !d.gone && n%2 == 1 {
			t.Logf("%d operations", n/2)
			return
		}
	}
}
