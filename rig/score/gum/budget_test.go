package gum

import (
	"math"
	"testing"
)

// Student's t by scipy 1.10.1, stats.t.ppf((1+p)/2, dof), good to 1e-8: its own stats.t.cdf says that the
// value for 40 degrees of freedom is 7e-9 too low.
func TestCoverageFactor(t *testing.T) {
	for _, c := range []struct{ dof, p, want float64 }{
		{1, 0.6827, 1.83740942951}, {1, 0.95, 12.7062047364}, {1, 0.99, 63.6567411629},
		{2, 0.6827, 1.32131546245}, {2, 0.95, 4.30265272991}, {2, 0.99, 9.92484320092},
		{5, 0.6827, 1.1105333938}, {5, 0.95, 2.57058183661}, {5, 0.99, 4.03214298356},
		{16, 0.95, 2.11990529922}, {16.9, 0.99, 2.92078162235}, {15.999999999999998, 0.99, 2.92078162235},
		{40, 0.95, 2.021075383}, {1000, 0.99, 2.58075469807}, {1e5, 0.95, 1.95998770753},
		{1e6, 0.6827, 1.00002221334}, {9.9e6, 0.99, 2.57582980017}, {math.Inf(1), 0.95, 1.959963984540},
	} {
		if got, err := CoverageFactor(c.p, c.dof); err != nil || !near(got/c.want, 1, 1e-8) {
			t.Errorf("t(%g, %g) = %.12g, %v, want %.12g", c.p, c.dof, got, err, c.want)
		}
	}
	for _, c := range [][2]float64{{0, 5}, {1, 5}, {math.NaN(), 5}, {0.95, 0.5}, {0.95, math.NaN()}} {
		_, err := CoverageFactor(c[0], c[1])
		refused(t, "t", err, "expected")
	}
}

func TestBudgetPartsAndShares(t *testing.T) {
	b := must(NewBudget(Component{"water film, g", 3, 1, 0, false}, Component{"charge, g", 8, -0.5, 4, true}))
	if common, own := b.Split(); common != 4 || own != 3 || b.U() != 5 {
		t.Errorf("split %g and %g, together %g, want 4, 3, 5", common, own, b.U())
	}
	if want := 4 / math.Pow(0.8, 4); !near(b.Dof(), want, 1e-12) {
		t.Errorf("%g degrees of freedom, want %g", b.Dof(), want)
	}
	lines := b.Lines()
	if len(lines) != 2 || lines[0].Name != "water film, g" || lines[1].Contribution != 4 || !near(lines[0].Share, 0.36, 1e-15) {
		t.Errorf("lines %+v", lines)
	}
	if e, k, err := (Budget{}).Expanded(0.95); e != 0 || !near(k, 1.96, 1e-4) || err != nil {
		t.Errorf("empty budget: %g, k %g, %v", e, k, err)
	}
	for name, c := range map[string]Component{
		"negative u":   {"tare", -1, 1, 0, false},
		"NaN u":        {"tare", math.NaN(), 1, 0, false},
		"infinite c":   {"tare", 1, math.Inf(1), 0, false},
		"dof below 1":  {"tare", 1, 1, 0.5, false},
		"NaN dof":      {"tare", 1, 1, math.NaN(), false},
		"negative dof": {"tare", 1, 1, -3, false},
	} {
		_, err := NewBudget(Component{"first", 1, 1, 0, false}, c)
		refused(t, name, err, "component 2", "tare", "expected")
	}
	_, err := NewBudget(Component{"huge", 1e300, 1e300, 0, false})
	refused(t, "overflow", err, "too large")
}

// Gross and tare from one scale: its calibration cancels in the net mass as far as both share it.
func TestCombinedWithCovariance(t *testing.T) {
	if u := must(Combined([]float64{1, -1}, [][]float64{{4, 4}, {4, 4}})); u != 0 {
		t.Errorf("fully shared: %g, want 0", u)
	}
	if u := must(Combined([]float64{1, -1}, [][]float64{{4, 0}, {0, 5}})); u != 3 {
		t.Errorf("independent: %g, want 3", u)
	}
	// The same through H.2's door: sensitivities of Propagate with a covariance of our own.
	x, u := []float64{500, 300}, []float64{2, 2}
	f := func(x []float64) float64 { return x[0] - x[1] }
	e := must(Propagate(f, x, u, [][]float64{{1, 0.5}, {0.5, 1}}))
	if !near(e.U, 2, 1e-9) || !near(e.Sens[1], -1, 1e-9) || e.Y != 200 || x[0] != 500 {
		t.Errorf("half shared: %+v, want u = 2", e)
	}
	for name, cov := range map[string][][]float64{
		"short":      {{4, 0}},
		"ragged":     {{4}, {0, 4}},
		"lopsided":   {{4, 1}, {0, 4}},
		"negative":   {{4, 0}, {0, -4}},
		"impossible": {{1, 9}, {9, 1}},
		"NaN":        {{4, 0}, {0, math.NaN()}},
	} {
		_, err := Combined([]float64{1, -1}, cov)
		refused(t, name, err)
	}
}

func TestPropagateRefuses(t *testing.T) {
	one := func(x []float64) float64 { return math.Sqrt(x[0]) }
	for name, c := range map[string]struct {
		x, u []float64
		corr [][]float64
	}{
		"lengths":        {[]float64{1}, []float64{1, 2}, nil},
		"nothing":        {nil, nil, nil},
		"negative u":     {[]float64{1}, []float64{-1}, nil},
		"NaN":            {[]float64{math.NaN()}, []float64{1}, nil},
		"outside domain": {[]float64{0}, []float64{1}, nil},
		"diagonal":       {[]float64{1}, []float64{1}, [][]float64{{0.5}}},
		"above 1":        {[]float64{1, 1}, []float64{1, 1}, [][]float64{{1, 2}, {2, 1}}},
	} {
		_, err := Propagate(one, c.x, c.u, c.corr)
		refused(t, name, err)
	}
	if e := must(Propagate(func(x []float64) float64 { return 3 * x[0] }, []float64{0}, []float64{0}, nil)); !near(e.Sens[0], 3, 1e-6) || e.U != 0 {
		t.Errorf("exact zero: %+v", e)
	}
}

// Common practice: 8.5 oz left of a 49 oz charge is 17.3 %. With 0.1 oz rectangular on each reading the
// relative uncertainties of a quotient add in squares (JCGM 100:2008, 5.1.6).
func TestLeftShare(t *testing.T) {
	left, charge := must(Grams(8.5, "oz")), must(Grams(49, "oz"))
	u := FromHalfWidth(must(Grams(0.05, "oz")))
	e := must(Propagate(func(x []float64) float64 { return x[0] / x[1] * 100 }, []float64{left, charge}, []float64{u, u}, nil))
	if !near(e.Y, 17.3, 0.05) {
		t.Errorf("%g %%, want 17.3", e.Y)
	}
	if want := e.Y * math.Hypot(u/left, u/charge); !near(e.U/want, 1, 1e-9) {
		t.Errorf("u = %g %%, want %g", e.U, want)
	}
}
