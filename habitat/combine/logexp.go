package combine

import "math"

// The natural logarithm and exponential for scores, the same to the bit on
// every platform: the math package has assembly on some and lets others fuse
// products into sums. Both look up the nearest of a table and go on from
// there by a short series. The absolute error of log is below 3e-14 for
// float32 values, the relative error of exp below 2e-15; half a score step
// is 3e-5. The logarithm of 1 is exactly 0, so that a score of 1 can stand for
// "no part in the sum" beside weights however small.

const (
	logBits = 9 // the table halves each octave into 2^logBits parts
	expBits = 7

	mantissa = 1<<52 - 1
	one      = 0x3FF << 52
	ln2      = math.Ln2
)

// logPart is a stretch of mantissas: 1/c in 28 bits, so that its product
// with a float32's mantissa is exact, and ln c.
type logPart struct{ inverse, log float64 }

var (
	logParts  [1 << logBits]logPart
	logOctave [1 << 11]float64 // k ln 2; -Inf for zero, NaN for NaN
	expParts  [1 << expBits]uint64
)

func init() {
	for i := range logParts {
		c := 1 + (float64(i)+0.5)/(1<<logBits)
		inverse := math.Floor(0x1p28/c+0.5) * 0x1p-28
		if i == 0 {
			inverse = 1
		}
		logParts[i] = logPart{inverse, -seriesLog(inverse)}
	}
	for e := range logOctave {
		logOctave[e] = float64(e-1023) * ln2
	}
	logOctave[0], logOctave[len(logOctave)-1] = math.Inf(-1), math.NaN()
	for j := range expParts {
		expParts[j] = math.Float64bits(seriesExp(float64(j)*ln2/(1<<expBits))) - uint64(j)<<(52-expBits)
	}
}

// seriesLog is ln x for x in 0.4..2.5 by the series of the area hyperbolic
// tangent.
func seriesLog(x float64) float64 {
	z := (x - 1) / (x + 1)
	z2, sum := float64(z*z), 0.0
	for k := 61; k >= 1; k -= 2 {
		sum = float64(sum*z2) + 1/float64(k)
	}
	return 2 * float64(z*sum)
}

// seriesExp is e^x for x in 0..1 by Taylor's series.
func seriesExp(x float64) float64 {
	sum := 1.0
	for k := 22; k >= 1; k-- {
		sum = float64(sum*x)/float64(k) + 1
	}
	return sum
}

// lift returns the bits of a score raised to the floor, itself given by its
// bits: floats that are not negative sort like their bits, NaN above all.
func lift(v float64, floor uint64) uint64 { return max(math.Float64bits(v)&^(1<<63), floor) }

// raise lifts a score to the floor.
func raise(v float64, floor uint64) float64 { return math.Float64frombits(lift(v, floor)) }

// log is ln of the number above or at 0 of the given bits: -Inf for 0, NaN
// for NaN. It is small enough to be inlined into the strips.
func log(bits uint64) float64 {
	p := &logParts[bits>>(52-logBits)&(1<<logBits-1)]
	r := float64(math.Float64frombits(bits&mantissa|one)*p.inverse) - 1
	tail := float64(r * (float64(r*(1.0/3)) - 0.5 - float64(float64(r*r)*0.25)))
	return logOctave[bits>>52&(1<<11-1)] + p.log + (r + float64(r*tail))
}

// exp is e^x for x up to 0; below -30 it gives e^-30, which rounds to the
// score 0 just so; NaN for NaN.
func exp(x float64) float64 {
	const (
		shift  = 0x1.8p52
		high   = 0x1.62e42fefap-8 // ln 2 / 2^expBits, in two parts
		low    = 0x1.cf79abc9e3b3ap-47
		invert = (1 << expBits) / ln2
	)
	if x < -30 {
		x = -30
	}
	k := float64(x*invert) + shift
	bits := math.Float64bits(k)
	k -= shift
	r := x - float64(k*high) - float64(k*low)
	r2 := float64(r * r)
	tail := r + float64(r2*(0.5+float64(r*(1.0/6))+float64(r2*(1.0/24))))
	scale := math.Float64frombits(expParts[bits&(1<<expBits-1)] + bits<<(52-expBits))
	return scale + float64(scale*tail)
}
