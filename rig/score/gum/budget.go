package gum

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Component is one source of uncertainty of a result.
type Component struct {
	Name        string
	U           float64 // standard uncertainty, in the unit of the input
	Sensitivity float64 // change of the result per unit of the input; 0: no influence, 1: same unit
	Dof         float64 // degrees of freedom, 1 or more; 0 or +Inf: infinite
	Common      bool    // shared by all units on the bench, so it cancels when they are compared
}

// Budget is a checked list of independent components; for correlated inputs see [Combined] and
// [Propagate]. The zero Budget has no uncertainty.
type Budget struct{ parts []Component }

// Line is one component of a budget as it is printed.
type Line struct {
	Component
	Contribution float64 // |sensitivity| * U, in the unit of the result
	Share        float64 // of the combined variance, 0 to 1
}

// NewBudget checks the components and keeps their order.
func NewBudget(parts ...Component) (Budget, error) {
	for i, c := range parts {
		where := fmt.Sprintf("component %d %q", i+1, c.Name)
		switch {
		case !finite(c.U) || c.U < 0:
			return Budget{}, fmt.Errorf("%s: found standard uncertainty %g, expected 0 or more", where, c.U)
		case !finite(c.Sensitivity):
			return Budget{}, fmt.Errorf("%s: found sensitivity %g, expected a number", where, c.Sensitivity)
		case !(c.Dof == 0 || c.Dof >= 1): // NaN fails too
			return Budget{}, fmt.Errorf("%s: found %g degrees of freedom, expected 1 or more, or 0 for infinite", where, c.Dof)
		}
	}
	b := Budget{parts: append([]Component(nil), parts...)}
	if u := b.U(); !finite(u) {
		return Budget{}, fmt.Errorf("combined standard uncertainty is %g: the components are too large", u)
	}
	return b, nil
}

// U returns the combined standard uncertainty (JCGM 100:2008, 5.1.2), in the unit of the result.
func (b Budget) U() float64 {
	common, own := b.Split()
	return math.Hypot(common, own)
}

// Split returns the combined standard uncertainty of the components shared by all units on the bench
// and of the others. The first cancels in a difference between two units, the second does not.
func (b Budget) Split() (common, own float64) {
	for _, c := range b.parts {
		if c.Common {
			common = math.Hypot(common, c.Sensitivity*c.U)
		} else {
			own = math.Hypot(own, c.Sensitivity*c.U)
		}
	}
	return common, own
}

// Dof returns the effective degrees of freedom by Welch and Satterthwaite (JCGM 100:2008, G.4.1), not
// truncated; +Inf when no component that matters has a finite number.
func (b Budget) Dof() float64 {
	u, sum := b.U(), 0.0
	for _, c := range b.parts {
		if c.Dof > 0 && u > 0 {
			r := c.Sensitivity * c.U / u
			sum += r * r * r * r / c.Dof
		}
	}
	return 1 / sum // +Inf for 0
}

// Expanded returns the expanded uncertainty at level p (0.95 for 95 %) and its coverage factor: Student's
// t with the effective degrees of freedom truncated to an integer (JCGM 100:2008, G.4.1).
func (b Budget) Expanded(p float64) (expanded, k float64, err error) {
	if k, err = CoverageFactor(p, b.Dof()); err != nil {
		return 0, 0, err
	}
	return k * b.U(), k, nil
}

// Lines returns the components with what each contributes, in the order given.
func (b Budget) Lines() []Line {
	lines, u := make([]Line, len(b.parts)), b.U()
	for i, c := range b.parts {
		lines[i] = Line{Component: c, Contribution: math.Abs(c.Sensitivity * c.U)}
		if u > 0 {
			lines[i].Share = (lines[i].Contribution / u) * (lines[i].Contribution / u)
		}
	}
	return lines
}

// CoverageFactor returns the two-sided factor t_p(dof) of level p, dof truncated to an integer; +Inf
// is the normal distribution.
func CoverageFactor(p, dof float64) (float64, error) {
	if !(p > 0 && p < 1) {
		return 0, fmt.Errorf("found level %g, expected it between 0 and 1, such as 0.95", p)
	}
	// The sum over components rounds: 16 may come as 15.999999999999998.
	nu := math.Floor(dof * (1 + 1e-12))
	if !(nu >= 1) {
		return 0, fmt.Errorf("found %g degrees of freedom, expected 1 or more", dof)
	}
	if nu > 1e7 { // t differs from the normal by less than 1e-6 of itself
		return distuv.UnitNormal.Quantile((1 + p) / 2), nil
	}
	return distuv.StudentsT{Sigma: 1, Nu: nu}.Quantile((1 + p) / 2), nil
}

// FromHalfWidth returns the standard uncertainty of a rectangular distribution of half-width a, a/√3
// (JCGM 100:2008, 4.3.7): of a permissible error ±a, or of a reading step d with a = d/2.
func FromHalfWidth(a float64) float64 { return a / math.Sqrt(3) }

// Combined returns the standard uncertainty of a result from the sensitivities and the covariance
// matrix of its inputs (JCGM 100:2008, 5.2.2).
func Combined(sens []float64, cov [][]float64) (float64, error) {
	if len(sens) == 0 || len(cov) != len(sens) {
		return 0, fmt.Errorf("found %d sensitivities and %d rows of covariance, expected as many of both", len(sens), len(cov))
	}
	sum, size := 0.0, 0.0
	for i, row := range cov {
		if len(row) != len(sens) {
			return 0, fmt.Errorf("covariance row %d: found %d columns, expected %d", i+1, len(row), len(sens))
		}
		if row[i] < 0 {
			return 0, fmt.Errorf("covariance row %d: found variance %g, expected 0 or more", i+1, row[i])
		}
		for j, v := range row {
			if len(cov[j]) == len(sens) && math.Abs(v-cov[j][i]) > 1e-9*math.Sqrt(row[i]*cov[j][j]) {
				return 0, fmt.Errorf("covariance %d,%d: found %g and %g, expected a symmetric matrix", i+1, j+1, v, cov[j][i])
			}
			t := sens[i] * v * sens[j]
			sum, size = sum+t, size+math.Abs(t)
		}
	}
	if !finite(sum) {
		return 0, errors.New("found a sensitivity or covariance that is not a number")
	}
	if sum < -1e-9*size {
		return 0, fmt.Errorf("combined variance is %g: the covariance matrix is not possible", sum)
	}
	return math.Sqrt(max(sum, 0)), nil
}
