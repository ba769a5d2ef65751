package combine

import "math"

// The arithmetic of each rule but ordered weights, by strips: begin, include
// each factor in turn, finish. A missing score makes a sum NaN.

// begin sets sums to what they are before any factor.
func (c *Combiner) begin(sums []float64) {
	start := 0.0
	if c.rule == Product || c.rule == LeastFactor || c.powers {
		start = 1
	}
	for i := range sums {
		sums[i] = start
	}
}

// neutral is the score that changes no sum.
func (c *Combiner) neutral() float32 {
	switch c.rule {
	case Mean:
		return 0
	case HarmonicMean:
		return float32(math.Inf(1))
	}
	return 1
}

// include adds one factor's part to the sums.
func (c *Combiner) include(sums []float64, values []float32, p part) {
	switch c.rule {
	case Mean:
		addShares(sums, values, p.share)
	case GeometricMean:
		if c.powers {
			multiplyPowers(sums, values, p.power, c.floor)
		} else {
			addLogs(sums, values, p.share, c.floor)
		}
	case HarmonicMean:
		addReciprocals(sums, values, p.share, c.floor)
	case Product:
		multiply(sums, values)
	case LeastFactor:
		takeLeast(sums, values)
	}
}

// finish turns sums over all factors into scores.
func (c *Combiner) finish(sums []float64) {
	share := c.shares
	switch c.rule {
	case Mean:
		for i, sum := range sums {
			sums[i] = sum / share
		}
	case GeometricMean:
		if c.powers {
			toLogs(sums)
		}
		for i, sum := range sums {
			sums[i] = exp(sum / share)
		}
	case HarmonicMean:
		for i, sum := range sums {
			sums[i] = share / sum
		}
	}
}

// finishUsed turns sums over the share used in each cell into scores.
func (c *Combiner) finishUsed(sums, used []float64) {
	used = used[:len(sums)]
	switch c.rule {
	case Mean:
		for i, sum := range sums {
			sums[i] = sum / used[i]
		}
	case GeometricMean:
		if c.powers {
			toLogs(sums)
		}
		for i, sum := range sums {
			sums[i] = exp(sum / used[i])
		}
	case HarmonicMean:
		for i, sum := range sums {
			sums[i] = used[i] / sum
		}
	}
}

func addShares(sums []float64, values []float32, weight float64) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] += float64(weight * float64(values[i]))
	}
}

func addLogs(sums []float64, values []float32, weight float64, floor uint64) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] += float64(weight * log(lift(float64(values[i]), floor)))
	}
}

func addReciprocals(sums []float64, values []float32, weight float64, floor uint64) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] += weight / raise(float64(values[i]), floor)
	}
}

func multiply(sums []float64, values []float32) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] = float64(sums[i] * float64(values[i]))
	}
}

func takeLeast(sums []float64, values []float32) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] = min(sums[i], float64(values[i]))
	}
}

func multiplyPowers(sums []float64, values []float32, n int, floor uint64) {
	values = values[:len(sums)]
	switch n {
	case 1:
		for i := range sums {
			sums[i] = float64(sums[i] * raise(float64(values[i]), floor))
		}
	case 2:
		for i := range sums {
			v := raise(float64(values[i]), floor)
			sums[i] = float64(sums[i] * float64(v*v))
		}
	case 3:
		for i := range sums {
			v := raise(float64(values[i]), floor)
			sums[i] = float64(sums[i] * float64(float64(v*v)*v))
		}
	default:
		for i := range sums {
			sums[i] = float64(sums[i] * power(raise(float64(values[i]), floor), n))
		}
	}
}

func toLogs(sums []float64) {
	for i, sum := range sums {
		sums[i] = log(math.Float64bits(sum))
	}
}

// power is v·v·…, n times.
func power(v float64, n int) float64 {
	out := v
	for range n - 1 {
		out = float64(out * v)
	}
	return out
}

// mostPower bounds the sum of powers: a product of scores that sinks below
// the least normal float64 (2e-308) then has a mean below 2e-5, which rounds
// to 0 whatever digits are lost.
const mostPower = 64

// wholePowers returns whole numbers in the proportion of the weights, with
// a sum up to mostPower; nil where there are none. A geometric mean then
// needs no logarithm for each factor: it is a root of a product of powers.
func wholePowers(parts []part) []int {
	powers := make([]int, len(parts))
	for scale := 1.0; scale <= 100; scale++ {
		divisor, sum := 0.0, 0.0
		for _, p := range parts {
			w := float64(p.weight * scale)
			whole := math.Floor(w + 0.5)
			if whole < 1 || math.Abs(w-whole) > 1e-12*whole {
				divisor = 0
				break
			}
			divisor = commonDivisor(whole, divisor)
			sum += whole
		}
		if divisor == 0 || sum/divisor > mostPower {
			continue
		}
		for i, p := range parts {
			powers[i] = int(math.Floor(float64(p.weight*scale)+0.5) / divisor)
		}
		return powers
	}
	return nil
}

func commonDivisor(a, b float64) float64 {
	for b != 0 {
		a, b = b, math.Mod(a, b)
	}
	return a
}
