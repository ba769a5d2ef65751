// Package tint is the colours that scores are shown in: one ramp for every
// picture, sheet and legend, from 0 to 1 and never stretched to the data, so
// that two pictures can be compared.
//
// The ramp is bamako of the Scientific colour maps 8.0 (Crameri 2023, doi
// 10.5281/zenodo.8035877, MIT licence), reversed, so that good ground is dark
// and a grey print reads alike; every tenth of it, straight between in each of
// red, green and blue. A missing score has no colour: what shows then is left
// to the picture.
package tint

import "math"

// Colour is red, green and blue.
type Colour [3]byte

// tenths are the colours of the scores 0, 0.1, … 1.
var tenths = [11]Colour{
	{0xFF, 0xE5, 0xAD}, {0xE5, 0xCB, 0x75}, {0xC6, 0xAE, 0x39}, {0xA4, 0x94, 0x0E}, {0x81, 0x88, 0x00}, {0x63, 0x7A, 0x0A},
	{0x47, 0x68, 0x1C}, {0x2F, 0x59, 0x2A}, {0x1B, 0x4C, 0x37}, {0x0D, 0x43, 0x40}, {0x00, 0x3B, 0x47},
}

// Steps is how many colours [Ramp] returns.
const Steps = 101

// Ramp returns the colours of the scores 0, 0.01, … 1.
func Ramp() []Colour {
	out := make([]Colour, Steps)
	for i := range out {
		out[i] = hundredth(i)
	}
	return out
}

// Of returns the colour of a score, to the nearest hundredth; scores beyond 0
// to 1 have those of the ends. A score that is NaN panics.
func Of(score float64) Colour {
	if math.IsNaN(score) {
		panic("tint: a missing score has no colour")
	}
	return hundredth(int(math.Round(100 * min(max(score, 0), 1))))
}

func hundredth(i int) Colour {
	a, b, part := tenths[i/10], tenths[min(i/10+1, 10)], i%10
	var out Colour
	for k := range out {
		out[k] = byte((int(a[k])*(10-part) + int(b[k])*part + 5) / 10)
	}
	return out
}
