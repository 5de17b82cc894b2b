package gum

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
)

const draws = 1_000_000 // what the tolerances of the table are for

func half(i Interval) float64 { return (i.To - i.From) / 2 }

func addition(x []float64) float64 { return x[0] + x[1] + x[2] + x[3] }

// mass100g is the model of JCGM 101:2008, 9.3.
func mass100g(x []float64) float64 {
	return (x[0]+x[1])*(1+(x[2]-1.2)*(1/x[3]-1/x[4])) - 100000
}

// impedance is GUM H.2: five simultaneous readings, means with their correlations.
func impedance(f func(x []float64) float64) Estimate {
	obs := [][]float64{
		{5.007, 4.994, 5.005, 4.990, 4.999},
		{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
		{1.0456, 1.0438, 1.0468, 1.0428, 1.0433},
	}
	x, u, corr := make([]float64, 3), make([]float64, 3), make([][]float64, 3)
	for i := range obs {
		m, s := stat.MeanStdDev(obs[i], nil)
		x[i], u[i] = m, s/math.Sqrt(5)
		for j := range obs {
			corr[i] = append(corr[i], stat.Correlation(obs[i], obs[j], nil))
		}
		corr[i][i] = 1
	}
	return must(Propagate(f, x, u, corr))
}

// computed gives what this package makes of the examples, by example, result and, where both are not
// enough, the words that begin the model.
func computed() map[string][]float64 {
	unit := func(k float64) Budget {
		c := Component{U: 1, Sensitivity: 1}
		return must(NewBudget(c, c, c, Component{U: k, Sensitivity: 1}))
	}
	expanded := func(b Budget, p float64) float64 { u, _, err := b.Expanded(p); return must(u, err) }
	r3 := math.Sqrt(3)
	n, r := Normal(0, 1), Rectangular(-r3, r3)
	a2 := must(MonteCarlo(draws, addition, []Input{n, n, n, n}, 1))
	a3 := must(MonteCarlo(draws, addition, []Input{r, r, r, r}, 2))
	a4 := must(MonteCarlo(draws, addition, []Input{r, r, r, Rectangular(-10*r3, 10*r3)}, 3))
	mass := []Input{Normal(100000, 0.050), Normal(1.234, 0.020), Rectangular(1.10, 1.30), Rectangular(7000, 9000), Rectangular(7950, 8050)}
	m := must(MonteCarlo(draws, mass100g, mass, 4))
	m1 := must(Propagate(mass100g, []float64{100000, 1.234, 1.2, 8000, 8000},
		[]float64{0.050, 0.020, FromHalfWidth(0.1), FromHalfWidth(1000), FromHalfWidth(50)}, nil))
	log := func(x []float64) float64 { return math.Log(x[0]) }
	l := must(MonteCarlo(draws, log, []Input{Rectangular(0.1, 1.1)}, 5))
	l1 := must(Propagate(log, []float64{0.6}, []float64{FromHalfWidth(0.5)}, nil))
	gauge := must(NewBudget(Component{"standard", 25, 1, 18, false}, Component{"difference", 9.7, 1, 25.6, false},
		Component{"expansion", 2.9, 1, 50, false}, Component{"temperature", 16.6, 1, 2, false}))
	diff := must(NewBudget(Component{"readings", 5.8, 1, 24, false}, Component{"random", 3.9, 1, 5, false},
		Component{"systematic", 6.7, 1, 8, false}))
	R := impedance(func(x []float64) float64 { return x[0] / x[1] * math.Cos(x[2]) })
	X := impedance(func(x []float64) float64 { return x[0] / x[1] * math.Sin(x[2]) })
	Z := impedance(func(x []float64) float64 { return x[0] / x[1] })
	inf := math.Inf(1)
	risk := must(GlobalRisks(1500, 0.12, 0.04, Interval{1499.8, 1500.2}, Interval{1499.82, 1500.18}))
	var z []float64
	for _, p := range []float64{0.80, 0.90, 0.95, 0.99, 0.999} {
		z = append(z, must(GuardFactor(p)))
	}
	return map[string][]float64{
		"JCGM 101 9.2.2 additive|standard uncertainty|Y=X1":                    {a2.SD},
		"JCGM 101 9.2.2 additive|95 % interval, half-width|":                   {half(a2.Shortest)},
		"JCGM 101 9.2.3 additive|standard uncertainty|":                        {a3.SD},
		"JCGM 101 9.2.3 additive|95 % interval, half-width, Monte Carlo|":      {half(a3.Symmetric)},
		"JCGM 101 9.2.3 additive|95 % interval, half-width, GUM framework|":    {expanded(unit(1), 0.95)},
		"JCGM 101 9.2.4 additive|standard uncertainty|":                        {a4.SD},
		"JCGM 101 9.2.4 additive|95 % interval, half-width, Monte Carlo|":      {half(a4.Symmetric)},
		"JCGM 101 9.2.4 additive|95 % interval, half-width, GUM framework|":    {expanded(unit(10), 0.95)},
		"JCGM 101 9.3 mass calibration|estimate, mg|":                          {m.Mean},
		"JCGM 101 9.3 mass calibration|standard uncertainty, Monte Carlo, mg|": {m.SD},
		"JCGM 101 9.3 mass calibration|shortest 95 % interval, mg|":            {m.Shortest.From, m.Shortest.To},
		"JCGM 101 9.3 mass calibration|standard uncertainty, mg|same, first":   {m1.U},
		"JCGM 101 9.3 mass calibration|standard uncertainty, mg|same, high":    nil, // second-order terms are not done here
		"JCGM 100 H.1 end gauge|combined standard uncertainty, nm|":            {gauge.U()},
		"JCGM 100 H.1 end gauge|effective degrees of freedom|":                 {gauge.Dof()},
		"JCGM 100 H.1 end gauge|expanded uncertainty, nm|":                     {expanded(gauge, 0.99)},
		"JCGM 100 H.1.3.2 difference|combined, nm|":                            {diff.U()},
		"JCGM 100 H.1.3.2 difference|effective degrees of freedom|":            {diff.Dof()},
		"JCGM 100 H.2 impedance|R, ohm|":                                       {R.Y},
		"JCGM 100 H.2 impedance|u(R), ohm|":                                    {R.U},
		"JCGM 100 H.2 impedance|X, ohm|":                                       {X.Y},
		"JCGM 100 H.2 impedance|u(X), ohm|":                                    {X.U},
		"JCGM 100 H.2 impedance|Z, ohm|":                                       {Z.Y},
		"JCGM 100 H.2 impedance|u(Z), ohm|":                                    {Z.U},
		"NPL DEM-ES-011 9.2|Monte Carlo estimate|":                             {l.Mean},
		"NPL DEM-ES-011 9.2|Monte Carlo standard uncertainty|":                 {l.SD},
		"NPL DEM-ES-011 9.2|estimate and u|":                                   {l1.Y, l1.U},
		"JCGM 106 7.3 one upper limit|conformance probability|":                {must(Conformance(-5.47, 0.05, -inf, -5.40))},
		"JCGM 106 7.3 one lower limit|conformance probability|":                {must(Conformance(509.7, 8.6, 490, inf))},
		"JCGM 106 7.4 two limits|conformance probability|":                     {must(Conformance(13.6, 1.8, 12.5, 16.3))},
		"JCGM 106 Table 1|one-sided|":                                          z,
		"JCGM 106 9.5 resistors|process conformance probability|":              {risk.Conforming},
		"JCGM 106 9.5 resistors|global consumer's risk|":                       {risk.Consumer},
		"JCGM 106 9.5 resistors|global producer's risk|":                       {risk.Producer},
		"JCGM 106 8.3 guarded rejection|reading from which to reject, km/h|":   {rejectFrom(100, 0.02, must(GuardFactor(0.999)))},
	}
}

// rejectFrom is the least reading that a four-way gate fails outright, by bisection of its verdicts.
func rejectFrom(limit, relative, k float64) float64 {
	g := Gate{limit, AtMost, FourWay, k}
	lo, hi := limit, 2*limit
	for range 60 {
		mid := (lo + hi) / 2
		if must(g.Decide(mid, relative*mid)).Verdict == Fail {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}

// Every row of testdata/reference/gum_examples.csv (JCGM 100, 101, 106 and NPL DEM-ES-011), against the
// value recomputed there to all its digits or the tolerance of a million draws, and against the
// published one to one unit of its last digit.
func TestPublishedExamples(t *testing.T) {
	if testing.Short() {
		t.Skip("draws five million times")
	}
	got, numbers := computed(), regexp.MustCompile(`-?\d+(\.\d+)?`)
	done := 0
	for _, row := range reference(t, "gum_examples.csv") {
		name := row["example"] + "|" + row["result"] + "|"
		found := ""
		for key := range got {
			if rest, ok := strings.CutPrefix(key, name); ok && strings.HasPrefix(row["model_and_inputs"], rest) {
				found = key
			}
		}
		if found == "" {
			t.Errorf("%s%s: no check of it", name, row["model_and_inputs"])
			continue
		}
		if got[found] == nil {
			continue
		}
		done++
		recomputed, published := numbers.FindAllString(row["recomputed"], -1), numbers.FindAllString(row["published"], -1)
		if len(recomputed) != len(got[found]) || len(published) != len(recomputed) {
			t.Errorf("%s: %d values for %v and %v", name, len(got[found]), recomputed, published)
			continue
		}
		for i, v := range got[found] {
			tol := 0.52 * lastDigit(recomputed[i]) // a last digit or two of the table was cut
			if row["tolerance"] != "" {
				tol = number(t, row["tolerance"])
			}
			if !near(v, number(t, recomputed[i]), tol) {
				t.Errorf("%s: %.7g, recomputed there %s, tolerance %g", name, v, recomputed[i], tol)
			}
			if name == "JCGM 100 H.1.3.2 difference|effective degrees of freedom|" {
				continue // printed from components with more digits than are given
			}
			if tol = max(tol, 1.0001*lastDigit(published[i])); !near(v, number(t, published[i]), tol) {
				t.Errorf("%s: %.7g, published %s", name, v, published[i])
			}
		}
	}
	if done != 34 {
		t.Errorf("%d rows checked, expected 34", done)
	}
}
