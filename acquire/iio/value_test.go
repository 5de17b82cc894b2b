package iio

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"quern/config"
	"quern/rig"
)

func extra(channel string) config.Extra {
	return config.Extra{ID: "water-temperature", Unit: "degC", Kind: "iio", Factor: 0.001, Offset: -0.5, IntervalS: 0.05, IIO: config.IIO{Channel: channel}}
}

func value(t testing.TB, root string, cfg config.Extra) *Value {
	t.Helper()
	v, err := NewExtra(cfg)
	if err != nil {
		t.Fatal(err)
	}
	v.root = root
	return v
}

func TestValues(t *testing.T) {
	root := t.TempDir()
	put(t, root, map[string]string{
		dev0 + "name":                       "sensor-a\n",
		dev0 + "in_temp_raw":                "1200\n",
		dev0 + "in_temp_offset":             "-200\n",
		dev0 + "in_temp_scale":              "20.5\n",
		dev0 + "in_voltage3_raw":            "10\n",
		dev0 + "in_voltage_scale":           "2\n",
		dev0 + "in_voltage3_offset":         "5\n",
		dev0 + "in_voltage1-voltage2_raw":   "4\n",
		dev0 + "in_voltage-voltage_scale":   "3\n",
		dev0 + "in_intensity_ir_raw":        "7\n",
		dev0 + "in_humidityrelative_input":  "45000\n",
		dev0 + "in_humidityrelative_scale":  "9\n", // of the raw value, which this one does not tell
		dev0 + "in_pressure_raw":            "junk\n",
		dev0 + "in_temp_ambient_raw":        "1\n",
		dev0 + "in_temp_ambient_scale":      "1e3\n",
		dev0 + "scan_elements/in_ignore_en": "0",
	})
	for _, tc := range []struct {
		channel string
		want    float64 // as the kernel tells it
	}{
		{"temp", 20500},
		{"voltage3", 30},
		{"voltage1-voltage2", 12},
		{"intensity_ir", 7},
		{"humidityrelative", 45000},
		{"temp_ambient", (1 - 200) * 1e3}, // the offset of its kind
	} {
		v := value(t, root, extra(tc.channel))
		from, end, cancel := start(t, v)
		for range 2 {
			if got := <-from; got.kind != "reading water-temperature 0" || !(math.Abs(got.value-(tc.want*0.001-0.5)) <= 1e-9) {
				t.Errorf("%s: %+v, expected %v", tc.channel, got, tc.want*0.001-0.5)
			}
		}
		cancel()
		if err := <-end; err != nil {
			t.Errorf("%s: %v", tc.channel, err)
		}
	}

	// A reading that fails is told; the next is taken again. Gone is gone.
	from, end, _ := start(t, value(t, root, extra("pressure")))
	if got := <-from; got.kind != "reject water-temperature" || !strings.Contains(got.why, `found "junk", expected a number`) {
		t.Errorf("%+v", got)
	}
	whole := filepath.Join(root, "whole")
	put(t, root, map[string]string{"whole": "500\n"})
	path := filepath.Join(root, dev0, "in_pressure_raw")
	if err := os.Rename(whole, path); err != nil { // at once, as the kernel changes a value
		t.Fatal(err)
	}
	got := <-from
	for got.kind == "reject water-temperature" {
		got = <-from
	}
	if got.value != 0 {
		t.Errorf("%+v, expected 500 * 0.001 - 0.5", got)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := <-end; err == nil || !strings.Contains(err.Error(), "in_pressure_raw: found no such file, expected what the converter says: plug") {
		t.Errorf("%v", err)
	}

	for channel, want := range map[string]string{
		"voltage9": `extra water-temperature: iio.channel: found "voltage9", expected a channel of "sensor-a" (iio:device0): `,
	} {
		if err := value(t, root, extra(channel)).Run(t.Context(), make(sink, 1)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, expected %s", channel, err, want)
		}
	}
	put(t, root, map[string]string{dev0 + "in_temp_scale": "nan\n"})
	if err := value(t, root, extra("temp")).Run(t.Context(), make(sink, 1)); err == nil || !strings.Contains(err.Error(), `found "nan", expected a number`) {
		t.Errorf("%v", err)
	}
}

func TestNewExtra(t *testing.T) {
	for want, change := range map[string]func(cfg *config.Extra){
		`extra water-temperature: kind is "line", expected "iio"`: func(cfg *config.Extra) { cfg.Kind = "line" },
		"extra water-temperature: factor is 0":                    func(cfg *config.Extra) { cfg.Factor = 0 },
		"extra water-temperature: interval_s is 0":                func(cfg *config.Extra) { cfg.IntervalS = 0 },
		`extra water-temperature: iio.channel: found "in_temp"`:   func(cfg *config.Extra) { cfg.IIO.Channel = "in_temp" },
	} {
		cfg := extra("temp")
		change(&cfg)
		if v, err := NewExtra(cfg); err == nil || !strings.Contains(err.Error(), want) || v != nil {
			t.Errorf("%v, expected %s", err, want)
		}
	}
	v := value(t, t.TempDir(), extra("temp"))
	if st := v.Streams(); v.Name() != "water-temperature on the converter's temp" || len(st) != 1 || st[0] != (rig.Stream{Channel: "water-temperature", Form: rig.Value, Unit: "degC"}) {
		t.Errorf("%s delivers %v", v.Name(), st)
	}
	if err := v.Run(t.Context(), make(sink, 1)); err == nil || !strings.Contains(err.Error(), "found no converter") {
		t.Errorf("%v", err)
	}
}
