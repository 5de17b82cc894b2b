package gum

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// table reads a table with comment lines: one map from column to cell a row.
func table(t testing.TB, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	recs, err := r.ReadAll()
	if err != nil {
		t.Fatal(path, err)
	}
	var rows []map[string]string
	for _, rec := range recs[1:] {
		row := map[string]string{}
		for i, cell := range rec {
			row[recs[0][i]] = cell
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		t.Fatal(path, "has no rows")
	}
	return rows
}

func reference(t testing.TB, name string) []map[string]string {
	return table(t, "../../../testdata/reference/"+name)
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// lastDigit is one unit of the last digit of a printed number.
func lastDigit(s string) float64 {
	_, decimals, _ := strings.Cut(s, ".")
	return math.Pow10(-len(decimals))
}

func near(got, want, tol float64) bool { return math.Abs(got-want) <= tol }

// must takes the value of a call that may not fail here.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// refused checks that each call gave an error that says all its words.
func refused(t *testing.T, name string, err error, words ...string) {
	t.Helper()
	if err == nil {
		t.Errorf("%s: accepted", name)
		return
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("%s: error %q does not say %q", name, err, w)
		}
	}
}
