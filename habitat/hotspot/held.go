package hotspot

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"likelyground/raster"
)

// Held is what one layer holds on the cells of a hotspot. It is built of
// whole numbers and extremes, so that it does not depend on the order of the
// cells.
type Held struct {
	Known     int64   // cells where the layer is known
	Low, High float32 // of the known values of a quantity; 0 where there is none
	Above     int64   // cells of a quantity above 0

	sum   exact
	codes map[int32]int64
}

// Mean returns the mean of a quantity over the known cells, NaN where none is.
func (h *Held) Mean() float64 {
	if h.Known == 0 {
		return math.NaN()
	}
	return h.sum.value() / float64(h.Known)
}

// CodeCount is how many cells hold a class.
type CodeCount struct {
	Code  int32
	Cells int64
}

// Codes returns the classes of a layer of classes, the most frequent first,
// equal ones by code.
func (h *Held) Codes() []CodeCount {
	out := make([]CodeCount, 0, len(h.codes))
	for code, n := range h.codes {
		out = append(out, CodeCount{code, n})
	}
	slices.SortFunc(out, func(a, b CodeCount) int {
		return cmp.Or(cmp.Compare(b.Cells, a.Cells), cmp.Compare(a.Code, b.Code))
	})
	return out
}

func (h *Held) addValues(values []float32) {
	for _, v := range values {
		if v != v {
			continue
		}
		if h.Known == 0 {
			h.Low, h.High = v, v
		}
		h.Known++
		if v > 0 {
			h.Above++
		}
		h.Low, h.High = min(h.Low, v), max(h.High, v)
		h.sum.add(v)
	}
}

// addCodes counts stretches of equal codes at once.
func (h *Held) addCodes(codes []int32) {
	for len(codes) > 0 {
		n := 1
		for n < len(codes) && codes[n] == codes[0] {
			n++
		}
		if codes[0] != raster.MissingCode {
			if h.codes == nil {
				h.codes = map[int32]int64{}
			}
			h.codes[codes[0]] += int64(n)
			h.Known += int64(n)
		}
		codes = codes[n:]
	}
}

func (h *Held) join(o *Held) {
	if o.Known == 0 {
		return
	}
	if h.Known == 0 {
		h.Low, h.High = o.Low, o.High
	}
	h.Known += o.Known
	h.Above += o.Above
	h.Low, h.High = min(h.Low, o.Low), max(h.High, o.High)
	h.sum.join(o.sum)
	for code, n := range o.codes {
		if h.codes == nil {
			h.codes = map[int32]int64{}
		}
		h.codes[code] += n
	}
}

// exact is a sum of numbers in steps of 2^-32, of 128 bits.
type exact struct {
	high int64
	low  uint64
}

// farOut is the largest number that is added as it is; larger ones, which no
// layer of the ground has, count as this.
const farOut = 1 << 30

func (e *exact) add(v float32) {
	n := int64(math.Round(min(max(float64(v), -farOut), farOut) * (1 << 32)))
	e.join(exact{n >> 63, uint64(n)})
}

func (e *exact) join(o exact) {
	low, carry := bits.Add64(e.low, o.low, 0)
	e.low, e.high = low, e.high+o.high+int64(carry)
}

func (e exact) value() float64 {
	return float64(float64(e.high)*(1<<32)) + float64(e.low)/(1<<32)
}
