package water

import (
	"math"
	"math/bits"
)

// unit is a cell's worth of ground where water goes several ways; the top bit
// of an amount is taken, so 2^43 cells can be counted.
const unit amount = 1 << 20

// The 1.1th power (Freeman 1991) of x = 2^e·m is x · 2^(e/10) · m^(1/10). The
// last is looked up and taken as straight between 1,024 steps, within 2e-8.
// The tables are made with products rounded one by one, so that they are the
// same on every machine.

const (
	tenthBits = 10
	mantissa  = 52
	bias      = 1023
)

var (
	tenthOfPower    [2 * bias]float64 // 2^(e/10) at e + bias
	tenthOfMantissa [1<<tenthBits + 1]float64
)

func init() {
	for i := range tenthOfMantissa {
		tenthOfMantissa[i] = tenthRoot(1 + float64(i)/(1<<tenthBits))
	}
	for i := range tenthOfPower {
		e := i - bias
		whole := floorDiv(e, 10)
		tenthOfPower[i] = math.Ldexp(tenthRoot(float64(int(1)<<(e-10*whole))), whole)
	}
}

// tenthRoot solves y^10 = x for x in 1..512 by Newton's method.
func tenthRoot(x float64) float64 {
	y := 2.0
	for range 60 {
		y2 := float64(y * y)
		y4 := float64(y2 * y2)
		y9 := float64(float64(y4*y4) * y)
		y = (float64(9*y) + x/y9) / 10
	}
	return y
}

// freeman is x^1.1 for a gradient above 0.
func freeman(x float64) float64 {
	b := math.Float64bits(x)
	const rest = mantissa - tenthBits
	i := b >> rest & (1<<tenthBits - 1)
	part := float64(b&(1<<rest-1)) * (1.0 / (1 << rest))
	low := tenthOfMantissa[i]
	root := low + float64((tenthOfMantissa[i+1]-low)*part)
	return float64(x*tenthOfPower[b>>mantissa]) * root
}

// shares is how one cell's water is dealt out.
type shares struct {
	to     [8]int // places of the receivers
	part   [8]float64
	amount [8]amount
}

// deal deals the water of cell i out to the neighbours in a mask, to the last
// unit, and returns how many they are. One that is named gets what rounding
// leaves over, and is last in the list. A mark goes to all receivers.
func (s *shares) deal(keys []key, i int, mask uint8, steps *[8]int, per *[8]float64, over int, a amount) int {
	here, total, last, n := float64(heightOf(keys[i])), 0.0, 0, 0
	for ; mask != 0; mask &= mask - 1 {
		k := bits.TrailingZeros8(mask) & 7
		to := i + steps[k]
		part := freeman((here - float64(heightOf(keys[to]))) * per[k])
		total += part
		s.to[n&7], s.part[n&7] = to, part
		if k == over {
			last = n
		}
		n++
	}
	end := (n - 1) & 7
	s.to[last&7], s.to[end] = s.to[end], s.to[last&7]
	s.part[last&7] = s.part[end]
	mark, left := a&cutMark, a&^cutMark
	each := float64(int64(left)) / total
	for k := range end {
		share := min(amount(int64(s.part[k]*each)), left)
		left -= share
		s.amount[k] = share | mark
	}
	s.amount[end] = left | mark
	return end + 1
}
