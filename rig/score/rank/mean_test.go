package rank

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

func TestMean(t *testing.T) {
	gone := Value{}
	for _, c := range []struct {
		name    string
		values  []Value
		weights []float64
		missing Missing
		want    Value
	}{
		// common practice: the mixed load counts double, two failed tests give 0
		{"roll-up", []Value{Val(3.2), Val(0), Val(0)}, []float64{2, 1, 1}, Missing{}, Val(1.6)},
		{"weights scaled", []Value{Val(3.2), Val(0), Val(0)}, []float64{0.5, 0.25, 0.25}, Missing{}, Val(1.6)},
		{"refused", []Value{Val(3.2), gone, Val(0)}, []float64{2, 1, 1}, Missing{}, gone},
		{"excluded", []Value{Val(3), gone, Val(0)}, []float64{2, 1, 1}, Missing{Rule: Exclude}, Val(2)},
		{"worst", []Value{Val(3), gone, Val(0)}, []float64{2, 1, 1}, Missing{Rule: CountAs, As: 1}, Val(1.75)},
		{"all missing", []Value{gone, gone}, []float64{2, 1}, Missing{Rule: Exclude}, gone},
		{"all missing, worst", []Value{gone, gone}, []float64{2, 1}, Missing{Rule: CountAs}, gone},
		{"none", nil, nil, Missing{}, gone},
		{"weights 0", []Value{Val(3)}, []float64{0}, Missing{}, gone},
		{"left weight 0", []Value{Val(3), gone}, []float64{0, 1}, Missing{Rule: Exclude}, gone},
		{"one weight 0", []Value{Val(3), Val(9)}, []float64{1, 0}, Missing{}, Val(3)},
		{"negative", []Value{Val(3), Val(9)}, []float64{2, -1}, Missing{}, gone},
		{"not a number", []Value{Val(3), Val(9)}, []float64{2, math.NaN()}, Missing{}, gone},
		{"lengths", []Value{Val(3), Val(9)}, []float64{2}, Missing{}, gone},
		{"huge", []Value{Val(3), Val(9)}, []float64{1e308, 1e308}, Missing{}, Val(6)},
		{"tiny", []Value{Val(3), Val(9)}, []float64{1e-320, 1e-320}, Missing{}, Val(6)},
	} {
		got := Mean(c.values, c.weights, c.missing)
		if got.OK != c.want.OK || !(math.Abs(got.V-c.want.V) <= 1e-15) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
		if shares := Shares(c.values, c.weights, c.missing); (shares != nil) != c.want.OK {
			t.Errorf("%s: shares %v", c.name, shares)
		}
	}
	if Val(math.NaN()).OK || Val(math.Inf(-1)).OK {
		t.Error("a number that is not finite is present")
	}
	got := Shares([]Value{Val(1), gone, Val(2)}, []float64{3, 2, 1}, Missing{Rule: Exclude})
	if !slices.Equal(got, []float64{0.75, 0, 0.25}) {
		t.Errorf("shares %v", got)
	}
}

func ExampleMean() {
	points := []Value{Val(3.2), Val(0), Val(0)} // the last two failed their gates
	fmt.Printf("%.1f\n", Mean(points, []float64{2, 1, 1}, Missing{}).V)
	// Output: 1.6
}
