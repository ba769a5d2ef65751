package water

import "math"

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
	n      int
}

// find finds the lower neighbours of a cell and what part each should have;
// steepest is the neighbour that gets what rounding leaves over, last in the
// list.
func (s *shares) find(keys []key, i int, steps *[8]int, per *[8]float64, steepest int) {
	here, total := float64(heightOf(keys[i])), 0.0
	s.n = 0
	last := 0.0
	for k, step := range steps {
		there := keys[i+step]
		if there >= keys[i] || there == missingKey {
			continue
		}
		w := freeman((here - float64(heightOf(there))) * per[k])
		total += w
		if k == steepest {
			last = w
			continue
		}
		s.to[s.n], s.part[s.n] = i+step, w
		s.n++
	}
	s.to[s.n], s.part[s.n] = i+steps[steepest], last
	s.n++
	for k := range s.n {
		s.part[k] /= total
	}
}

// deal deals an amount out, to the last unit. A mark goes to all receivers.
func (s *shares) deal(a amount) {
	mark, left := a&cutMark, a&^cutMark
	whole := float64(left)
	for k := range s.n - 1 {
		share := min(amount(whole*s.part[k]), left)
		left -= share
		s.amount[k] = share | mark
	}
	s.amount[s.n-1] = left | mark
}
