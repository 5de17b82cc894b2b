package gum_test

import (
	"fmt"

	"quern/rig/score/gum"
)

// From two readings of a scale to a verdict and points; the limit and the curve are invented.
func Example() {
	charge, left := 1389.1, 64.2            // g
	mpe, _ := gum.MPE("III", 1, left, true) // ±1 g
	sens, _ := gum.Propagate(func(x []float64) float64 { return x[0] / x[1] }, []float64{left, charge}, []float64{1, 1}, nil)
	budget, _ := gum.NewBudget(
		gum.Component{Name: "scale, leftover", U: gum.FromHalfWidth(mpe), Sensitivity: sens.Sens[0], Common: true},
		gum.Component{Name: "water film", U: 6, Sensitivity: sens.Sens[0]},
	)
	gate := gum.Gate{Limit: 0.05, Side: gum.AtMost, Rule: gum.FourWay, K: 2}
	d, _ := gate.Decide(sens.Y, budget.U())
	curve, _ := gum.NewCurve([][2]float64{{0, 10}, {0.02, 8}, {0.05, 5}, {0.2, 0}}, gum.Linear, gum.Flat)
	at, _ := curve.At(sens.Y)
	fmt.Printf("left %.2f %% ± %.2f %%: %s; %.1f points, between [%g, %g] and [%g, %g]\n",
		sens.Y*100, 2*budget.U()*100, d.Verdict, at.Y, at.X0, at.Y0, at.X1, at.Y1)
	for _, l := range budget.Lines() {
		fmt.Printf("%s: %.3f %%\n", l.Name, l.Contribution*100)
	}
	// Output:
	// left 4.62 % ± 0.87 %: pass (close); 5.4 points, between [0.02, 8] and [0.05, 5]
	// scale, leftover: 0.042 %
	// water film: 0.432 %
}
