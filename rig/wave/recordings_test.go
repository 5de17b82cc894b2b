package wave

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// Real files of odd but legal shape (8, 24 and 32 bits, chunks of all kinds, padding, lengths that
// are wrong) against levels that another program computed: levels.csv of the same folder, whose
// dBFS is 10 lg of the mean square re 1.0 with three decimals.
func TestRecordings(t *testing.T) {
	dir := os.Getenv("QUERN_RECORDINGS")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared", "recordings")
	}
	table, err := os.Open(filepath.Join(dir, "levels.csv"))
	if err != nil {
		t.Skip("no recordings: set QUERN_RECORDINGS to their folder")
	}
	defer table.Close()
	rows, err := csv.NewReader(table).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("levels.csv: %d rows, %v", len(rows), err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	for _, row := range rows[1:] {
		cell := func(name string) string { return row[column[name]] }
		number := func(name string) float64 {
			v, err := strconv.ParseFloat(cell(name), 64)
			if err != nil {
				t.Fatalf("levels.csv, %s: %v", name, err)
			}
			return v
		}
		t.Run(cell("file")+" "+cell("channel"), func(t *testing.T) {
			f, err := os.Open(filepath.Join(dir, cell("file")))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			info, err := f.Stat()
			if err != nil {
				t.Fatal(err)
			}
			r, err := Open(f, info.Size(), cell("file"))
			if err != nil {
				t.Fatal(err)
			}
			got, want := r.Format(), Format{RateHz: int(number("fs_hz")), Channels: int(number("channels"))}
			if got.RateHz != want.RateHz || got.Channels != want.Channels || got.Encoding.Bits() != int(number("bits")) ||
				got.Encoding.Float() != (cell("encoding") == "float") || r.Frames() != int64(number("samples")) {
				t.Errorf("got %v, %d frames; want %v", got, r.Frames(), row)
			}
			samples, err := readAll(r, int(number("channel")), 5000)
			if err != nil || int64(len(samples)) != r.Frames() {
				t.Fatalf("got %d samples, %v", len(samples), err)
			}
			if len(r.Repairs()) > 0 {
				t.Errorf("repairs: %q", r.Repairs())
			}
			var peak, sum float64
			for _, v := range samples {
				peak = max(peak, math.Abs(v))
				sum += v * v
			}
			if db := 20 * math.Log10(peak); !(math.Abs(db-number("peak_dbfs")) <= 0.0006) {
				t.Errorf("peak %.4f dBFS, want %v", db, cell("peak_dbfs"))
			}
			if db := 10 * math.Log10(sum/float64(len(samples))); !(math.Abs(db-number("rms_dbfs")) <= 0.0006) {
				t.Errorf("RMS %.4f dBFS, want %v", db, cell("rms_dbfs"))
			}
		})
	}
}
