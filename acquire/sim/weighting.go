package sim

import "math"

// Pole frequencies of the A and C weightings, Hz: IEC 61672-1:2013 Annex E (fr = 1000 Hz,
// fL = 10^1.5 Hz, fH = 10^3.9 Hz, fA = 10^2.45 Hz).
const (
	pole1Hz = 20.598997058
	pole2Hz = 107.652648643
	pole3Hz = 737.862230736
	pole4Hz = 12194.217147998
)

// cResponse and aResponse are the complex responses of the analogue weightings, 1 (0 dB) at 1 kHz.
func cResponse(f float64) complex128 { return rawC(f) * complex(unC1000, 0) }

func aResponse(f float64) complex128 { return rawA(f) * complex(unA1000, 0) }

// What makes the formulas 1 at 1 kHz: 0.061902 dB and 1.999656 dB, of which the standard prints 0.062
// and 2.000 (IEC 61672-1:2013 Annex E).
const (
	unC1000 = 1.00715217009
	unA1000 = 1.25887548642
)

// rawC has two zeros at 0 Hz and double poles at f1 and f4: IEC 61672-1:2013 Annex E.
func rawC(f float64) complex128 {
	s := complex(0, f)
	lo, hi := s+complex(pole1Hz, 0), s+complex(pole4Hz, 0)
	return s * s * complex(pole4Hz*pole4Hz, 0) / (lo * lo * hi * hi)
}

// rawA is rawC behind two first-order high-passes at f2 and f3.
func rawA(f float64) complex128 {
	s := complex(0, f)
	return rawC(f) * s * s / ((s + complex(pole2Hz, 0)) * (s + complex(pole3Hz, 0)))
}

func magnitude(h complex128) float64 { return math.Hypot(real(h), imag(h)) }

// aWeight is the factor of the A weighting at f Hz.
func aWeight(f float64) float64 { return magnitude(aResponse(f)) }

// refPa is 0 dB: IEC 61672-1, 20 micropascals.
const refPa = 20e-6

// pascals turns a level in dB re 20 uPa into pascals RMS.
func pascals(db float64) float64 { return refPa * math.Pow(10, db/20) }
