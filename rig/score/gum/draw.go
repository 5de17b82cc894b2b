package gum

import (
	"fmt"
	"math"
	"math/bits"
)

// Source is a stream of uniformly distributed 64-bit numbers.
type Source interface{ Uint64() uint64 }

// PCG is a permuted congruential generator: 128 bits of state, multiplier 0xda942042e4dd58b5, output
// DXSM (double xorshift multiply). It is written out here so that a published figure can be drawn
// again years later whatever the standard library does; today both give the same numbers.
type PCG struct{ hi, lo uint64 }

// NewPCG returns a generator; different seeds or streams give unrelated numbers.
func NewPCG(seed, stream uint64) *PCG { return &PCG{hi: seed, lo: stream} }

const (
	pcgMul   = 0xda942042e4dd58b5 // multiplier of the output function
	pcgMulHi = 2549297995355413924
	pcgMulLo = 4865540595714422341
	pcgIncHi = 6364136223846793005
	pcgIncLo = 1442695040888963407
)

// Uint64 returns the next number.
func (p *PCG) Uint64() uint64 {
	hi, lo := bits.Mul64(p.lo, pcgMulLo)
	hi += p.hi*pcgMulLo + p.lo*pcgMulHi
	lo, carry := bits.Add64(lo, pcgIncLo, 0)
	hi, _ = bits.Add64(hi, pcgIncHi, carry)
	p.hi, p.lo = hi, lo
	hi ^= hi >> 32
	hi *= pcgMul
	hi ^= hi >> 48
	return hi * (lo | 1)
}

// Uniform returns a number in the open interval from 0 to 1, one of 2^52 equally likely ones.
func Uniform(s Source) float64 { return (float64(s.Uint64()>>12) + 0.5) * 0x1p-52 }

// StandardNormal returns a draw of mean 0 and standard deviation 1, as the quantile of one uniform
// number: equal streams stay in step whatever is drawn from them.
func StandardNormal(s Source) float64 { return math.Sqrt2 * math.Erfinv(2*Uniform(s)-1) }

// Shape is the form of an input's distribution.
type Shape string

const (
	ShapeNormal      Shape = "normal"
	ShapeRectangular Shape = "rectangular"
	ShapeStudent     Shape = "student"
)

// Input is the distribution of one input quantity (JCGM 101:2008, Table 1).
type Input struct {
	Shape  Shape
	Centre float64
	Scale  float64 // standard deviation; of a rectangle the half-width; of Student's t the s/√n
	Dof    float64 // of Student's t
}

// Normal is a normal distribution.
func Normal(mean, sd float64) Input { return Input{Shape: ShapeNormal, Centre: mean, Scale: sd} }

// Rectangular is a distribution that is even between two limits.
func Rectangular(from, to float64) Input {
	return Input{Shape: ShapeRectangular, Centre: from + (to-from)/2, Scale: (to - from) / 2}
}

// Student is the scaled and shifted t of a mean of n readings: mean, s/√n, n-1 degrees of freedom.
func Student(mean, scale, dof float64) Input {
	return Input{Shape: ShapeStudent, Centre: mean, Scale: scale, Dof: dof}
}

// Check says what is wrong with an input.
func (in Input) Check() error {
	switch {
	case !finite(in.Centre, in.Scale) || in.Scale < 0:
		return fmt.Errorf("found centre %g and scale %g, expected numbers, the second 0 or more", in.Centre, in.Scale)
	case in.Shape == ShapeStudent && !(in.Dof >= 1 && finite(in.Dof)):
		return fmt.Errorf("found %g degrees of freedom, expected 1 or more", in.Dof)
	case in.Shape != ShapeNormal && in.Shape != ShapeRectangular && in.Shape != ShapeStudent:
		return fmt.Errorf("found shape %q, expected %q, %q or %q", in.Shape, ShapeNormal, ShapeRectangular, ShapeStudent)
	}
	return nil
}

// Draw returns one draw of a checked input. A normal or rectangular one takes one number of s,
// Student's t two, always.
func (in Input) Draw(s Source) float64 {
	switch in.Shape {
	case ShapeRectangular:
		return in.Centre + in.Scale*(2*Uniform(s)-1)
	case ShapeStudent: // R. W. Bailey, Math. Comp. 62 (1994) 779: exact for any degrees of freedom
		r := in.Dof * math.Expm1(-2/in.Dof*math.Log(Uniform(s)))
		return in.Centre + in.Scale*math.Sqrt(r)*math.Cos(2*math.Pi*Uniform(s))
	}
	return in.Centre + in.Scale*StandardNormal(s)
}
