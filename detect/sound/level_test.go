package sound

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
)

// Level sums and means against worked values (ISO 1996-1, clause 3).
func TestLevelArithmetic(t *testing.T) {
	seen := map[string]int{}
	for _, r := range table(t, "level_arithmetic.csv") {
		want := number(t, r, "value")
		name := r["case"] + " " + r["input"]
		var levels, weights []float64
		parse := func(s string) {
			for _, part := range strings.Split(s, ";") {
				l, w, ok := strings.Cut(part, ":")
				v, err := strconv.ParseFloat(l, 64)
				if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				u := 1.0
				if ok {
					if u, err = strconv.ParseFloat(w, 64); err != nil {
						t.Fatalf("%s: %v", name, err)
					}
				}
				levels, weights = append(levels, v), append(weights, u)
			}
		}
		switch {
		case r["case"] == "sum" && r["input"] == "ten of 70":
			parse("70;70;70;70;70;70;70;70;70;70")
			near(t, name, SumDB(levels...), want, 1e-6)
		case r["case"] == "sum":
			parse(r["input"])
			near(t, name, SumDB(levels...), want, 1e-6)
		case r["case"] == "energy mean":
			parse(r["input"])
			near(t, name, MeanDB(levels...).V, want, 1e-6)
		case r["case"] == "difference":
			var a, b float64
			if _, err := fmt.Sscanf(r["input"], "%f minus %f", &a, &b); err != nil {
				t.Fatal(err)
			}
			near(t, name, LevelDB(MeanSquarePa2(a)-MeanSquarePa2(b)), want, 1e-6)
			if a-b >= CorrectFromDB && a-b <= CorrectUntilDB {
				c, bound := Correct(a, b)
				near(t, name+" corrected", c.V, want, 1e-6)
				near(t, name+" bound", bound, want, 1e-6)
			}
		case r["case"] == "Leq of segments":
			_, s, _ := strings.Cut(r["input"], " ")
			parse(s)
			var e, d float64
			for i, l := range levels {
				e, d = e+weights[i]*MeanSquarePa2(l), d+weights[i]
			}
			near(t, name, LevelDB(e/d), want, 1e-6)
		case r["case"] == "pressure" && strings.HasSuffix(r["input"], "Pa RMS"):
			var v float64
			unit := 1.0
			if _, err := fmt.Sscanf(r["input"], "%f", &v); err != nil {
				t.Fatal(err)
			}
			if strings.Contains(r["input"], "uPa") {
				unit = 1e-6
			}
			near(t, name, LevelDB(v*v*unit*unit), want, 1e-6)
		case r["case"] == "pressure":
			var v float64
			if _, err := fmt.Sscanf(r["input"], "%f dB", &v); err != nil {
				t.Fatal(err)
			}
			near(t, name, math.Sqrt(MeanSquarePa2(v)), want, 1e-6)
		default:
			continue
		}
		seen[r["case"]]++
	}
	for _, c := range []string{"sum", "energy mean", "difference", "Leq of segments", "pressure"} {
		if seen[c] == 0 {
			t.Errorf("no case of %q in the table", c)
		}
	}
}

// What the microphone's full scale means, as measured, against the table's worked cases.
func TestFullScale(t *testing.T) {
	const rate = 48000
	square := make([]float64, rate)
	for i := range square {
		square[i] = 1 - 2*float64(i/24%2) // 1 kHz
	}
	seen := 0
	for _, r := range table(t, "level_arithmetic.csv") {
		if r["case"] != "full scale" {
			continue
		}
		want := number(t, r, "value")
		_, what, _ := strings.Cut(r["input"], "; ")
		seen++
		switch what {
		case "sine of peak 0.5":
			near(t, what, hear(t, rate, sine(rate, 1000, 0.5, 1), 0).levels(0).lzeq, want, 1e-3)
		case "sine of peak 1e-3":
			near(t, what, hear(t, rate, sine(rate, 1000, 1e-3, 1), 0).levels(0).lzeq, want, 1e-3)
		case "square wave +-1":
			near(t, what, hear(t, rate, square, 0).levels(0).lzeq, want, 1e-3)
		case "sine of peak 1: peak level":
			near(t, what, hear(t, rate, sine(rate, 1000, 1, 1), 0).levels(0.5).lcpeak, want, 0.03)
		case "white noise of RMS 0.1":
			near(t, what, hear(t, rate, noise(20*rate, 0.1), 0).levels(0).lzeq, want, 0.02)
		default:
			seen--
		}
	}
	if seen != 5 {
		t.Errorf("%d cases of full scale found, want 5", seen)
	}
}

// ISO 3744:2010, 8.2.3, formula (16), over 15 dB nothing; from 3 to 6 dB as ISO 3746 has it.
func TestCorrect(t *testing.T) {
	for _, r := range table(t, "iso3744_background.csv") {
		margin := number(t, r, "level_difference_db")
		level, background := 82.31, number(t, r, "example_background_db")
		if !(math.Abs(level-background-margin) <= 0.01) {
			t.Fatalf("row of %g dB has a background of %g dB", margin, background)
		}
		background = level - margin
		want := level - number(t, r, "K1_by_formula_db")
		if margin > 15 {
			want = level
		}
		got, bound := Correct(level, background)
		near(t, fmt.Sprintf("margin %g dB", margin), got.V, want, 1e-4)
		if !got.OK || bound != got.V {
			t.Errorf("margin %g dB: got %+v and bound %g, want both present and equal", margin, got, bound)
		}
	}
	for _, margin := range []float64{2.99, 0, -5} {
		got, bound := Correct(70, 70-margin)
		if got.OK || got.Why != "background-too-high" {
			t.Errorf("margin %g dB: got %+v, want absent", margin, got)
		}
		near(t, "bound", bound, 70-3.0206, 1e-4)
	}
	if got, _ := Correct(82.31, 79.31); !got.OK {
		t.Error("a margin of 3 dB that rounding makes a hair less is refused")
	}
	if got, _ := Correct(70, math.Inf(-1)); got.V != 70 {
		t.Errorf("no background at all: got %+v, want 70", got)
	}
}

func TestMeanOfNothing(t *testing.T) {
	if f := MeanDB(); f.OK {
		t.Errorf("the mean of no levels is %+v, want absent", f)
	}
}
