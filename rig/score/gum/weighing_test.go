package gum

import (
	"errors"
	"io"
	"math"
	"os"
	"strings"
	"testing"
)

func writeFile(t *testing.T, path string, r io.Reader) {
	t.Helper()
	b, err := io.ReadAll(r)
	if err == nil {
		err = os.WriteFile(path, b, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// OIML R 76-1:2006, Table 6 and 3.5.2, row by row of scale_accuracy.csv: both ends of each band, at
// several intervals e.
func TestMPERows(t *testing.T) {
	rows := 0
	for _, row := range reference(t, "scale_accuracy.csv") {
		if !strings.HasPrefix(row["scheme"], "OIML R 76") {
			continue // Handbook 44 is another rule
		}
		rows++
		inService := strings.Contains(row["scheme"], "in service")
		from, want := number(t, row["from_intervals"]), number(t, row["error_plus_minus"])
		loads := []float64{from + 1}
		if from == 0 {
			loads = append(loads, 0)
		}
		if row["to_intervals"] != "" {
			loads = append(loads, number(t, row["to_intervals"]))
		} else {
			loads = append(loads, 1e9)
		}
		for _, e := range []float64{0.001, 0.1, 0.3, 1, 5} {
			for _, n := range loads {
				if got, err := MPE(row["class"], e, n*e, inService); err != nil || !near(got, want*e, 1e-12*want*e) {
					t.Errorf("%s class %s, e %g g, %g e: %g g, %v, want %g e", row["scheme"], row["class"], e, n, got, err, want)
				}
			}
		}
	}
	if rows != 24 {
		t.Errorf("%d rows, expected 24", rows)
	}
}

// The worked rows of scale_rules.csv.
func TestWorkedScales(t *testing.T) {
	got := map[string]float64{
		"worked: class III, e=1 g, load 500 g|initial verification":             must(MPE("III", 1, 500, false)),
		"worked: class III, e=1 g, load 501 g|initial verification":             must(MPE("III", 1, 501, false)),
		"worked: class III, e=1 g, load 2500 g|initial verification":            must(MPE("III", 1, 2500, false)),
		"worked: class III, e=1 g, load 2500 g|in service":                      must(MPE("III", 1, 2500, true)),
		"worked: class II, e=0.1 g, load 2500 g (25000 e)|initial verification": must(MPE("II", 0.1, 2500, false)),
		"worked: class III, e=5 g, load 2500 g (500 e)|initial verification":    must(MPE("III", 5, 2500, false)),
		"worked: reading step d=1 g, rectangular|standard uncertainty":          FromHalfWidth(0.5),
		"worked: difference of two readings, d=1 g|standard uncertainty": must(NewBudget(
			Component{"gross", FromHalfWidth(0.5), 1, 0, false}, Component{"tare", FromHalfWidth(0.5), -1, 0, false})).U(),
	}
	rows := 0
	for _, row := range reference(t, "scale_rules.csv") {
		if !strings.HasPrefix(row["subject"], "worked") {
			continue
		}
		rows++
		v, ok := got[row["subject"]+"|"+row["item"]]
		if !ok || !near(v, number(t, row["value"]), 5.1e-7) {
			t.Errorf("%s, %s: %g, want %s", row["subject"], row["item"], v, row["value"])
		}
	}
	if rows != len(got) {
		t.Errorf("%d worked rows, expected %d", rows, len(got))
	}
	// Gross less tare rounds: 500.00000000000006 g is still 500 e.
	if got := must(MPE("III", 1, number(t, "512.2")-number(t, "12.2"), false)); got != 0.5 {
		t.Errorf("512.2 g less 12.2 g: %g g, want 0.5", got)
	}
	for name, c := range map[string]struct {
		class   string
		e, load float64
	}{
		"class": {"V", 1, 1}, "no class": {"", 1, 1}, "e 0": {"III", 0, 1}, "e NaN": {"III", math.NaN(), 1},
		"load below 0": {"III", 1, -1}, "load NaN": {"III", 1, math.NaN()},
		"beyond II": {"II", 1, 100_001}, "beyond III": {"III", 1, 10_001}, "beyond IIII": {"IIII", 1, 1001},
	} {
		_, err := MPE(c.class, c.e, c.load, false)
		refused(t, name, err, "expected")
	}
}

func sieveExample(t *testing.T) (Grading, []map[string]string) {
	rows := reference(t, "sieve_example.csv")
	var sieves []Sieve
	for _, row := range rows[:len(rows)-1] {
		sieves = append(sieves, Sieve{number(t, row["sieve_mm"]), number(t, row["mass_retained_g"])})
	}
	return must(Analyse(sieves, number(t, rows[len(rows)-1]["mass_retained_g"]))), rows
}

// A sieve analysis in the manner of ASTM C136: sieve_example.csv and sieve_percentiles.csv.
func TestSieveAnalysis(t *testing.T) {
	g, rows := sieveExample(t)
	if len(g.Fractions) != len(rows) || !near(g.TotalG, 1000, 1e-9) {
		t.Fatalf("%d fractions of %g g", len(g.Fractions), g.TotalG)
	}
	for i, f := range g.Fractions {
		for col, v := range map[string]float64{"percent_retained": f.RetainedPct,
			"cumulative_percent_retained": f.CumulativePct, "percent_passing": f.PassingPct} {
			if !near(v, number(t, rows[i][col]), 1e-9) {
				t.Errorf("sieve %s: %s %g, want %s", rows[i]["sieve_mm"], col, v, rows[i][col])
			}
		}
	}
	for _, row := range reference(t, "sieve_percentiles.csv") {
		for col, how := range map[string]Between{"size_log_interpolated_mm": LogSize, "size_linear_interpolated_mm": LinearSize} {
			if got, err := g.SizeAt(number(t, row["percent_passing"]), how); err != nil || !near(got, number(t, row[col]), 5.1e-6) {
				t.Errorf("%s %s: %.6f, %v, want %s", row["name"], how, got, err, row[col])
			}
		}
	}
	// sieve_example.csv: dry mass before sieving 1001.8 g; difference 0.18 %.
	if loss := must(g.LossPct(1001.8)); !near(loss, 0.18, 0.005) {
		t.Errorf("loss %g %%, want 0.18", loss)
	}
}

func TestSizesPastTheSieves(t *testing.T) {
	g, _ := sieveExample(t)
	_, err := g.SizeAt(11.99, LogSize)
	var past *NotBracketed
	if !errors.As(err, &past) || !past.Finer || past.OpeningMM != 1.18 {
		t.Errorf("d12 less a bit: %v, want below 1.18 mm", err)
	}
	refused(t, "below", err, "below 1.18 mm", "cannot be interpolated")
	if d, err := g.SizeAt(12, LogSize); err != nil || d != 1.18 {
		t.Errorf("12 %%: %g, %v, want 1.18", d, err)
	}
	if d, err := g.SizeAt(100, LogSize); err != nil || !near(d, 12.5, 1e-12) {
		t.Errorf("100 %%: %g, %v, want 12.5", d, err)
	}
	coarse := must(Analyse([]Sieve{{4.75, 100}, {2.36, 50}}, 50))
	_, err = coarse.SizeAt(80, LogSize)
	if !errors.As(err, &past) || past.Finer || past.OpeningMM != 4.75 {
		t.Errorf("80 %%: %v, want above 4.75 mm", err)
	}
	flat := must(Analyse([]Sieve{{9.5, 50}, {4.75, 0}, {2.36, 0}}, 50))
	if d, err := flat.SizeAt(50, LogSize); err != nil || d != 2.36 {
		t.Errorf("50 %% pass three sieves: %g, %v, want the finest, 2.36", d, err)
	}
	if d, err := must(Analyse([]Sieve{{4.75, 50}}, 50)).SizeAt(50, LinearSize); err != nil || d != 4.75 {
		t.Errorf("one sieve: %g, %v, want 4.75", d, err)
	}
	for _, p := range []float64{-1, 101, math.NaN()} {
		_, err = g.SizeAt(p, LogSize)
		refused(t, "percentage", err, "expected")
	}
	_, err = g.SizeAt(50, "")
	refused(t, "interpolation", err, "log", "linear")
	_, err = (Grading{}).SizeAt(50, LogSize)
	refused(t, "no analysis", err)
	_, err = g.LossPct(0)
	refused(t, "nothing before", err)
	for name, c := range map[string]struct {
		sieves []Sieve
		pan    float64
	}{
		"none": {nil, 1}, "order": {[]Sieve{{2.36, 1}, {4.75, 1}}, 1}, "same": {[]Sieve{{2.36, 1}, {2.36, 1}}, 1},
		"negative": {[]Sieve{{2.36, -1}}, 5}, "negative pan": {[]Sieve{{2.36, 5}}, -1}, "empty": {[]Sieve{{2.36, 0}}, 0},
		"NaN": {[]Sieve{{2.36, math.NaN()}}, 5}, "NaN pan": {[]Sieve{{2.36, 5}}, math.NaN()}, "opening": {[]Sieve{{0, 5}}, 5},
	} {
		_, err := Analyse(c.sieves, c.pan)
		refused(t, name, err, "expected")
	}
}

// Common practice: 15 % on the coarse and 24 % on the fine sieve make 39 % of sizeable bits.
func TestSizeableBits(t *testing.T) {
	g := must(Analyse([]Sieve{{4.75, 15}, {2.36, 24}}, 61))
	if fine := g.Fractions[1]; fine.CumulativePct != 39 || fine.PassingPct != 61 {
		t.Errorf("%+v, want 39 %% retained", fine)
	}
}

// Exact factors of NIST SP 811, Appendix B: units.csv.
func TestUnitsOfMass(t *testing.T) {
	grams := map[string]float64{"kg": 1000, "g": 1, "mg": 0.001}
	units := map[string]string{"pound, avoirdupois (lb)": "lb", "ounce, avoirdupois (oz)": "oz", "grain (gr)": "gr",
		"troy ounce (ozt)": "ozt", "carat, metric": "ct"}
	rows := 0
	for _, row := range reference(t, "units.csv") {
		unit, ok := units[row["unit"]]
		if !ok {
			continue
		}
		rows++
		want := number(t, row["factor"]) * grams[row["in"]]
		if got, err := Grams(1, unit); err != nil || !near(got/want, 1, 3e-16) {
			t.Errorf("1 %s = %.17g g, %v, want %.17g", unit, got, err, want)
		}
	}
	if rows != len(units) {
		t.Errorf("%d units in the table, expected %d", rows, len(units))
	}
	// 16 oz = 7000 gr = 1 lb; 480 gr = 1 ozt; a whole number of units is rounded once.
	for _, c := range []struct {
		v    float64
		unit string
		want float64
	}{{16, "oz", 453.59237}, {7000, "gr", 453.59237}, {1, "lb", 453.59237}, {480, "gr", 31.1034768}, {1, "ozt", 31.1034768},
		{7, "oz", 198.446661875}, {5, "ct", 1}, {1, "mg", 0.001}, {2.5, "kg", 2500}, {-3, "g", -3}} {
		if got := must(Grams(c.v, c.unit)); got != c.want {
			t.Errorf("%g %s = %.17g g, want %g", c.v, c.unit, got, c.want)
		}
		if back := must(FromGrams(c.want, c.unit)); !near(back/c.v, 1, 3e-16) {
			t.Errorf("%g g = %.17g %s, want %g", c.want, back, c.unit, c.v)
		}
	}
	_, err := Grams(1, "stone")
	refused(t, "unknown", err, "stone", "g, kg, mg, oz, lb, gr, ozt, ct")
	_, err = FromGrams(1, "OZ")
	refused(t, "case", err, "OZ", "oz")
	for _, v := range []float64{math.NaN(), math.Inf(-1), 1e306} {
		_, err = Grams(v, "lb")
		refused(t, "no number", err, "lb")
	}
}
