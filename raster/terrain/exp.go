package terrain

import "math"

// The factors of e^r = 1 + r + r²/2! + …, for |r| up to half of ln 2, where
// what is left out is below 1e-16.
const (
	e2  = 1.0 / 2
	e3  = 1.0 / 6
	e4  = 1.0 / 24
	e5  = 1.0 / 120
	e6  = 1.0 / 720
	e7  = 1.0 / 5040
	e8  = 1.0 / 40320
	e9  = 1.0 / 362880
	e10 = 1.0 / 3628800
	e11 = 1.0 / 39916800
	e12 = 1.0 / 479001600
)

// exp returns e^x for -700 ≤ x ≤ 700, within 1e-15 of it. It is our own so
// that every machine gives the same bytes.
func exp(x float64) float64 {
	k := math.Floor(float64(x*math.Log2E) + 0.5)
	r := x - float64(k*math.Ln2)
	v := e10 + float64(r*(e11+float64(r*e12)))
	v = e7 + float64(r*(e8+float64(r*(e9+float64(r*v)))))
	v = e4 + float64(r*(e5+float64(r*(e6+float64(r*v)))))
	v = 1 + float64(r*(1+float64(r*(e2+float64(r*(e3+float64(r*v)))))))
	return v * math.Float64frombits(uint64(1023+int64(k))<<52)
}
