package sound_test

import (
	"fmt"
	"math"

	"quern/config"
	"quern/detect/sound"
)

func settings() config.DetectSound {
	return config.DetectSound{ClipBelowFSDB: 0.1, ClipSamples: 3, SilentS: 0.5}
}

// A calibrator gives 94 dB at 1 kHz. The microphone's full scale is 120 dB: the level of a sine whose
// peak just reaches digital full scale. So the calibrator's tone has a peak 26 dB below.
func Example() {
	m, err := sound.New(48000, 120, settings())
	if err != nil {
		fmt.Println(err)
		return
	}
	x := make([]float64, 5*48000)
	for i := range x {
		x[i] = math.Pow(10, -26.0/20) * math.Sin(2*math.Pi*1000*float64(i)/48000)
	}
	m.Push(x)
	m.Finish()

	var ea, seconds, peak float64
	for _, f := range m.Frames() {
		ea += f.EA
		seconds += f.EndS - f.StartS
		if f.StartS >= 1 { // a tone that sets in peaks 0.3 dB higher in its first period
			peak = max(peak, f.CPeak)
		}
	}
	fmt.Printf("LAeq %.1f dB, LAE %.1f dB, LCpeak %.1f dB\n",
		sound.LevelDB(ea/seconds), sound.LevelDB(ea), sound.LevelDB(peak*peak))
	// Output: LAeq 94.0 dB, LAE 101.0 dB, LCpeak 97.0 dB
}

// Third-octaves come in groups of bands, each with frames of its own length.
func ExampleMeter_Bands() {
	m, err := sound.New(48000, 120, settings())
	if err != nil {
		fmt.Println(err)
		return
	}
	x := make([]float64, 10*48000)
	for i := range x {
		x[i] = 0.01 * math.Sin(2*math.Pi*120*float64(i)/48000) // twice the mains frequency
	}
	m.Push(x)
	m.Finish()

	var e, s [len(sound.NominalHz)]float64
	for _, f := range m.Bands() {
		for i, v := range f.E {
			e[f.First+i] += v
			s[f.First+i] += f.EndS - f.StartS
		}
	}
	for i, hz := range sound.NominalHz {
		if l := sound.LevelDB(e[i] / s[i]); l > 60 {
			fmt.Printf("%g Hz: %.1f dB\n", hz, l)
		}
	}
	// Output: 125 Hz: 80.0 dB
}

// Three samples in a row within 0.1 dB of full scale are a clip.
func ExampleMeter_Faults() {
	m, err := sound.New(48000, 120, settings())
	if err != nil {
		fmt.Println(err)
		return
	}
	x := make([]float64, 48000)
	for i := range x {
		x[i] = min(0.02+3*math.Exp(-math.Pow(float64(i-24000)/100, 2)), 1) + 1e-6*float64(i%2)
	}
	m.Push(x)
	m.Finish()
	for _, f := range m.Faults() {
		fmt.Printf("%s from %.4f to %.4f s: %d samples\n", f.Kind, f.FromS, f.ToS, f.Samples)
	}
	// Output: clipped from 0.4978 to 0.5022 s: 213 samples
}

// A level is corrected for the room where it stands 3 to 15 dB above it.
func ExampleCorrect() {
	for _, background := range []float64{46, 75, 81} {
		l, bound := sound.Correct(82.3, background)
		if l.OK {
			fmt.Printf("82.3 dB in %g dB: %.1f dB\n", background, l.V)
		} else {
			fmt.Printf("82.3 dB in %g dB: at most %.1f dB\n", background, bound)
		}
	}
	// Output:
	// 82.3 dB in 46 dB: 82.3 dB
	// 82.3 dB in 75 dB: 81.4 dB
	// 82.3 dB in 81 dB: at most 79.3 dB
}
