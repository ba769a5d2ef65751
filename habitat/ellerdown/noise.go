package ellerdown

import "math"

// Everything about the country hangs on positions alone, by noise over
// hashed whole numbers: no state, no order, the same on every platform.
// Products are rounded before they are added (see the package comment).

// scramble hashes a lattice point: multiply and fold, so that each bit of
// the input moves each bit of the output about half the time.
func scramble(i, j int32, seed uint32) uint32 {
	h := uint32(i)*0x9E3779B1 ^ uint32(j)*0x85EBCA77 ^ seed*0xC2B2AE3D
	h ^= h >> 15
	h *= 0x2C1B3C6D
	h ^= h >> 12
	h *= 0x297A2D39
	return h ^ h>>15
}

// unit is a number from 0 to below 1, one of 2^24, out of a hash.
func unit(h uint32) float64 { return float64(h>>8) * 0x1p-24 }

// compass holds sixteen directions.
var compass = func() (out [16][2]float64) {
	quarter := [4][2]float64{{1, 0}, {0.92388, 0.38268}, {0.70711, 0.70711}, {0.38268, 0.92388}}
	for k, d := range quarter {
		out[k], out[k+4], out[k+8], out[k+12] = d, [2]float64{-d[1], d[0]}, [2]float64{-d[0], -d[1]}, [2]float64{d[1], -d[0]}
	}
	return out
}()

// noise is smooth gradient noise (Perlin 1985) of wavelength 1: 0 at whole
// numbers, about -1 to 1 in between.
func noise(x, y float64, seed uint32) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int32(fx), int32(fy)
	x -= fx
	y -= fy
	u, v := fade(x), fade(y)
	north := blend(lean(i, j, x, y, seed), lean(i+1, j, x-1, y, seed), u)
	south := blend(lean(i, j+1, x, y-1, seed), lean(i+1, j+1, x-1, y-1, seed), u)
	return 1.5 * blend(north, south, v)
}

// lean is the slope of a lattice point times the way from it.
func lean(i, j int32, x, y float64, seed uint32) float64 {
	d := &compass[scramble(i, j, seed)>>28]
	return float64(d[0]*x) + float64(d[1]*y)
}

// fade is 6t⁵-15t⁴+10t³, level at both ends.
func fade(t float64) float64 {
	return float64(float64(t*t)*t) * (float64(t*(float64(t*6)-15)) + 10)
}

func blend(a, b, t float64) float64 { return a + float64((b-a)*t) }

// ramp goes from 0 at low to 1 at high, level beyond.
func ramp(x, low, high float64) float64 {
	t := min(max((x-low)/(high-low), 0), 1)
	return float64(t*t) * (3 - float64(2*t))
}

// wave is noise of a wavelength in metres.
type wave struct {
	length float64
	seed   uint32
}

func (w wave) at(x, y float64) float64 { return noise(x/w.length, y/w.length, w.seed) }
