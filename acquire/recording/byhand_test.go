package recording

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

func TestReadHandRuns(t *testing.T) {
	got, err := ReadHandRuns(strings.NewReader("\ufeffunit,procedure,date,who,note,run_time_s,left_share,laeq_db\r\n"+
		"# an invented table\nunit-a,mixed,2024-05-31,ann,\"first, of three\",183.2,0.021,\nunit-b,mixed,2024-06-01T10:00:00Z,bo,,95,0,81.5\n"), "old.csv")
	if err != nil || len(got) != 2 {
		t.Fatalf("got %+v, %v", got, err)
	}
	a, b := got[0], got[1]
	if a.Unit != "unit-a" || a.Procedure != "mixed" || !a.Date.Equal(time.Date(2024, 5, 31, 0, 0, 0, 0, time.UTC)) || a.Who != "ann" || a.Note != "first, of three" ||
		fmt.Sprint(a.Measures) != "[{run_time_s 183.2} {left_share 0.021}]" {
		t.Errorf("got %+v", a)
	}
	if fmt.Sprint(b.Measures) != "[{run_time_s 95} {left_share 0} {laeq_db 81.5}]" || b.Date.Hour() != 10 || b.Line != 4 {
		t.Errorf("got %+v", b)
	}
}

func TestReadHandRunsRefuses(t *testing.T) {
	head := "unit,procedure,date,run_time_s\n"
	for text, want := range map[string]string{
		"":                                   "old.csv:1: found an empty file",
		head:                                 "old.csv:1: found no row",
		"unit,date,run_time_s\n":             "old.csv:1: found no column procedure",
		"unit,procedure,date,seconds\n":      `old.csv:1: found column "seconds"`,
		"unit,procedure,date,hand.build\n":   `old.csv:1: found column "hand.build"`,
		"unit,unit,date\n":                   `old.csv:1: found column "unit" twice`,
		head + "unit-a,mixed,May,1\n":        `old.csv:2: found date "May"`,
		head + "unit-a,mixed,2024-05-31,-12": `old.csv:2: found run_time_s "-12", expected 0 or more`,
		"unit,procedure,date,left_share\nunit-a,mixed,2024-05-31,5":                                   `old.csv:2: found left_share "5", expected a share such as 0.05 for 5 %`,
		head + "unit-a,mixed,2024-05-31,12s":                                                          `old.csv:2: found run_time_s "12s", expected a number such as 12.4`,
		head + "unit-a,mixed,2024-05-31,NaN":                                                          `old.csv:2: found run_time_s "NaN"`,
		head + "unit-a,mixed,2024-05-31,1e10":                                                         `old.csv:2: found run_time_s "1e10", expected at most 1000000000`,
		head + "unit-a,mixed,2024-05-31,":                                                             "old.csv:2: found a row without any measure",
		head + "unit-a,mixed,2024-05-31":                                                              "old.csv:2: found 3 fields, expected 4",
		"unit,procedure,date,who,trips\nunit-a,mixed,2024-05-31," + strings.Repeat("w", 101) + ",1":   "old.csv:2: found a name of 101 bytes, expected at most 100",
		"unit,procedure,date,note,trips\nunit-a,mixed,2024-05-31," + strings.Repeat("n", 1001) + ",1": "old.csv:2: found a note of 1001 bytes, expected at most 1000",
		head + "\"unit-a,mixed,2024-05-31":                                                            "old.csv:",
	} {
		got, err := ReadHandRuns(strings.NewReader(text), "old.csv")
		if err == nil || !strings.HasPrefix(err.Error(), want) || got != nil {
			t.Errorf("%q: got %v, %v; want %s", text, got, err, want)
		}
	}
}

// FuzzReadHandRuns: no input panics, and every run that comes out has what a session needs.
func FuzzReadHandRuns(f *testing.F) {
	f.Add("unit,procedure,date,run_time_s\nunit-a,mixed,2024-05-31,12\n")
	f.Add("unit,procedure,date,who,note,left_share\n\"a\nb\",mixed,2024-05-31,x,y,0.1\n")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := ReadHandRuns(strings.NewReader(text), "f.csv")
		if err != nil && got != nil {
			t.Fatal("an error and runs")
		}
		for _, r := range got {
			if len(r.Measures) == 0 || r.Line < 2 || r.Date.IsZero() && !strings.Contains(text, "0001-01-01") {
				t.Fatalf("%+v", r)
			}
		}
	})
}
