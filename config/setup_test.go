package config

import (
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"quern/rig"
)

// randomSetup returns a setup with every field at random inside its range; optional ones are
// sometimes absent. It knows the fields by their tags only.
func randomSetup(seed uint64) Setup {
	var s Setup
	r := rand.New(rand.NewPCG(seed, 1))
	random(r, reflect.ValueOf(&s).Elem())
	s.Bench.Pages = Pages{} // no matter of sessions: TestPagesAreNoMatterOfSessions
	m := &s.Bench.Detect.Motor
	apart(&m.StallLeaveRatio, &m.StallRatio)
	apart(&m.OverloadLeave, &m.OverloadRatio)
	if s.Bench.Clamp.Device.Kind == "sound-card" {
		s.Bench.Microphone.Device.Kind = "alsa"
	}
	if s.Bench.Clamp.Device.Kind == "iio" {
		s.Bench.Clamp.Device.Form = "waveform"
	}
	for i := range s.Bench.Extra {
		s.Bench.Extra[i].ID = "extra-" + strings.Repeat("a", i) // none may be another's
	}
	for i := range s.Bench.Vessels {
		v := &s.Bench.Vessels[i]
		v.ID = "vessel-" + strings.Repeat("a", i)
		v.WetG = max(v.WetG, v.DryG)
	}
	p := &s.Procedure
	apart(&p.After.OutputLow, &p.After.OutputHigh)
	apart(&p.After.FineSieveMM, &p.After.CoarseSieveMM)
	p.After.Chamber, p.After.Passed = true, true // any measure may be a gate's
	p.After.FineSieveMM = max(p.After.FineSieveMM, 1)
	p.After.CoarseSieveMM = p.After.FineSieveMM + 1
	sumG := 0.0
	for i := range p.Items {
		it := &p.Items[i]
		it.Name = "item-" + strings.Repeat("a", i)
		it.HeldBack = min(it.HeldBack, it.Pieces)
		it.MassG /= 4 // what all of them make is a charge too
		sumG += it.MassG
	}
	if p.ChargeG = max(p.ChargeG, 1); sumG > 0 {
		p.ChargeG = sumG
	}
	for i := range p.Gates {
		p.Gates[i].Measure = rig.Measures[(int(seed)+i)%len(rig.Measures)].Name
	}
	if s.Unit.LockedRotorA != 0 {
		apart(&s.Unit.RatedCurrentA, &s.Unit.LockedRotorA)
		s.Unit.RatedCurrentA = min(s.Unit.RatedCurrentA, 199)
	}
	return s
}

// apart puts the smaller of two values first.
func apart(low, high *float64) {
	if *low == *high {
		*high = math.Nextafter(*high, math.Inf(1))
	}
	*low, *high = min(*low, *high), max(*low, *high)
}

func random(r *rand.Rand, v reflect.Value) {
	for i := range v.NumField() {
		f, dst := v.Type().Field(i), v.Field(i)
		tag := f.Tag.Get("range")
		low, high, _, _ := interval(tag)
		switch {
		case f.Type.Kind() == reflect.Struct:
			random(r, dst)
		case f.Type.Kind() == reflect.Slice:
			if n := r.IntN(3); n > 0 {
				dst.Set(reflect.MakeSlice(f.Type, n, n))
			}
			for j := range dst.Len() {
				random(r, dst.Index(j))
			}
		case f.Tag.Get("optional") != "" && r.IntN(2) == 0: // absent
		case f.Type.Kind() == reflect.Float64:
			dst.SetFloat(high - r.Float64()*(high-low)) // never low itself, which may be excluded
		case f.Type.Kind() == reflect.Int:
			dst.SetInt(int64(low) + r.Int64N(int64(high-low)+1))
		case f.Type.Kind() == reflect.Bool:
			dst.SetBool(r.IntN(2) == 0)
		case tag == idRange:
			dst.SetString(text(r, "abcdefghijklmnopqrstuvwxyz0123456789", 1) + text(r, "abc789-", r.IntN(62)))
		case tag == dateRange:
			dst.SetString(time.Unix(r.Int64N(4e9), 0).UTC().Format(time.DateOnly))
		case tag == zoneRange:
			zones := []string{"America/Los_Angeles", "Asia/Kathmandu", "Etc/GMT+5", "Pacific/Chatham", "UTC"}
			dst.SetString(zones[r.IntN(len(zones))])
		case tag == measureRange:
			dst.SetString(rig.Measures[r.IntN(len(rig.Measures))].Name)
		case strings.Contains(tag, "|"):
			words := strings.Split(tag, "|")
			dst.SetString(words[r.IntN(len(words))])
		default:
			dst.SetString(text(r, "aZ0 \"\\'#=[]\n\r\t\x00\x1f\x7fäß€\U0001F600\u2028", r.IntN(30)))
		}
	}
}

func text(r *rand.Rand, alphabet string, n int) string {
	runes := []rune(alphabet)
	var b strings.Builder
	for range n {
		b.WriteRune(runes[r.IntN(len(runes))])
	}
	return b.String()
}

// The generator must be able to fail the tests that use it: it leaves the defaults.
func TestRandomSetupVaries(t *testing.T) {
	a, b := randomSetup(1), randomSetup(2)
	if reflect.DeepEqual(a, b) || a.Bench.Detect == DefaultDetect() {
		t.Error("random setups are alike")
	}
	if !reflect.DeepEqual(a, randomSetup(1)) {
		t.Error("the same seed gives another setup")
	}
}

func TestSetupRoundTrip(t *testing.T) {
	n := uint64(400)
	if os.Getenv("QUERN_WHOLE") != "" {
		n = 2000
	}
	for seed := range n {
		want := randomSetup(seed)
		text := want.TOML()
		got, err := ReadSetup("setup.toml", text)
		if err != nil {
			t.Fatalf("seed %d: %v\n%s", seed, err, text)
		}
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("seed %d: got %+v, want %+v", seed, got, want)
		}
		if again := got.TOML(); string(again) != string(text) {
			t.Fatalf("seed %d: prints as\n%s\nthen as\n%s", seed, text, again)
		}
	}
}

// Every key stands in a setup's text, but for optional ones that are absent.
func TestSetupIsComplete(t *testing.T) {
	s := Setup{Bench: DefaultBench(), Unit: DefaultUnit("a"), Procedure: DefaultProcedure("p")}
	s.Unit.LockedRotorA, s.Bench.Scale.VerificationG, s.Bench.Microphone.SelfNoiseDB = 5, 1, 20
	s.Bench.Extra, s.Bench.Vessels = make([]Extra, 1), []Vessel{{WetG: 1}}
	s.Bench.TimeZone = "UTC"
	s.Bench.Control.Unit, s.Bench.Control.Procedure = "a", "p"
	p := &s.Procedure
	p.ChargeG, p.Items, p.Gates, p.Water.TemperatureC, p.After.CoarseSieveMM, p.After.FineSieveMM = 1, make([]Item, 1), make([]Gate, 1), 1, 2, 1
	text := string(s.TOML())
	n := 0
	walk(typeOf[Setup](), "", func(f reflect.StructField, path string) {
		if strings.Contains(path, "pages.") { // no matter of sessions
			return
		}
		n++
		if c := strings.Count(text, "\n"+f.Tag.Get("toml")+" = "); c == 0 {
			t.Errorf("no %s in\n%s", path, text)
		}
	})
	if got := strings.Count(text, " = "); got != n {
		t.Errorf("%d keys, want %d", got, n)
	}
	s.Unit.LockedRotorA = 0
	if strings.Contains(string(s.TOML()), "locked_rotor_a") {
		t.Error("an absent value is written")
	}
}

func TestReadSetupIsStrict(t *testing.T) {
	good := string(randomSetup(3).TOML())
	for _, c := range []struct{ name, old, new, want string }{
		{"unknown key", "[unit]\n", "[unit]\nvoltage_v = 1\n", `unknown key "voltage_v" in [unit], expected one of id, name, release, samples, supplied_by_maker, rated_current_a, locked_rotor_a, motor: it belongs in [bench.supply]`},
		{"unknown table", "[unit]\n", "[unti]\n", `unknown key "unti" at the top of this file, expected one of bench, unit, procedure: did you mean unit?`},
		{"required key", "rated_current_a", "# rated_current_a", "no unit.rated_current_a, expected a number above 0, up to 200 A"},
		{"range", "division_g = ", "division_g = 99999", "bench.scale.division_g = 99999"},
		{"syntax", "[unit]\n", "[unit\n", "what is no TOML ("},
	} {
		text := strings.Replace(good, c.old, c.new, 1)
		if text == good {
			t.Fatalf("%s: %q is not in\n%s", c.name, c.old, good)
		}
		s, err := ReadSetup("s/setup.toml", []byte(text))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "s/setup.toml:") {
			t.Errorf("%s: got %v, want s/setup.toml: ... %s", c.name, err, c.want)
		}
		if !reflect.DeepEqual(s, Setup{}) {
			t.Errorf("%s: an error and a setup", c.name)
		}
	}
	crossed := randomSetup(3)
	crossed.Bench.Detect.Motor.StallRatio, crossed.Bench.Detect.Motor.StallLeaveRatio = 0.5, 0.6
	if _, err := ReadSetup("setup.toml", crossed.TOML()); err == nil || !strings.Contains(err.Error(), "bench.detect.motor.stall_leave_ratio = 0.6, expected less than bench.detect.motor.stall_ratio = 0.5") {
		t.Errorf("crossed thresholds: got %v", err)
	}
}

// A session that was kept before a key was added reads with the key's default.
func TestReadSetupFillsIn(t *testing.T) {
	got, err := ReadSetup("setup.toml", []byte("[unit]\nid = \"a\"\nrated_current_a = 1\n[procedure]\nid = \"p\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got.Bench, DefaultBench()) || got.Procedure.LongestPauseS != 900 || got.Unit.Motor != "induction" || got.Unit.LockedRotorA != 0 {
		t.Errorf("got %+v", got)
	}
}

func TestNegativeZero(t *testing.T) {
	lab := contractLab()
	lab["bench.toml"] = file("[detect.sound]\nclip_below_fs_db = -0.0\n")
	if v := mustRead(t, lab).Bench.Detect.Sound.ClipBelowFSDB; math.Signbit(v) {
		t.Error("-0.0 stays negative and would be printed so")
	}
}
