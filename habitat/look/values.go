package look

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"likelyground/raster/maps"
)

// step is a number of a sample and how often it stands there.
type step struct {
	x float64
	n int
}

// steps lists the different numbers of a sample, rising.
func steps(known []float64) []step {
	sorted := slices.Clone(known)
	slices.Sort(sorted)
	var out []step
	for _, x := range sorted {
		if n := len(out); n > 0 && out[n-1].x == x {
			out[n-1].n++
		} else {
			out = append(out, step{x, 1})
		}
	}
	return out
}

// mostClasses is how many different whole numbers a sample of classes without
// names may hold.
const mostClasses = 40

// few tells whether the numbers are whole and few enough to be classes.
func few(all []step) bool {
	if len(all) == 0 || len(all) > mostClasses {
		return false
	}
	for _, s := range all {
		if s.x != math.Trunc(s.x) || math.Abs(s.x) > math.MaxInt32 {
			return false
		}
	}
	return true
}

// mark tells whether a number marks no data, or something else than a value, in
// maps of one or two bytes; it counts only where it stands apart from the
// others. 250 to 255: land cover products of Europe and North America.
func mark(x float64, b *maps.InspectedBand) bool {
	switch x {
	case 0, -1, 127, -128, 250, 251, 252, 253, 254, 255, 999, 9999, 32766, 65534:
		return true
	}
	return math.Abs(x) >= 1e20 || b.Whole && (x == b.Low || x == b.High)
}

// standIns returns the undeclared numbers of a sample that look like a sign
// for no data: well-known ones, and up to four at either end that stand far
// apart from the others (half the range of the others where the number is a
// mark, else five times that range).
func standIns(all []step, b *maps.InspectedBand, classes bool) []step {
	var odd, rest []step
	for _, s := range all {
		if maps.StandIn(s.x) || math.IsInf(s.x, 0) {
			odd = append(odd, s)
		} else {
			rest = append(rest, s)
		}
	}
	top := apart(rest, b, classes)
	odd = append(odd, rest[len(rest)-top:]...)
	rest = rest[:len(rest)-top]
	slices.Reverse(rest)
	bottom := apart(rest, b, classes)
	odd = append(odd, rest[len(rest)-bottom:]...)
	slices.SortFunc(odd, func(a, b step) int { return cmp.Compare(a.x, b.x) })
	return odd
}

// apart returns how many of the last numbers stand apart from the others; the
// numbers may rise or fall.
func apart(all []step, b *maps.InspectedBand, classes bool) int {
	const least = 3 // other numbers, for there to be a range
	for k := min(4, len(all)-least); k >= 1; k-- {
		last := len(all) - k
		gap, span := math.Abs(all[last].x-all[last-1].x), math.Abs(all[last-1].x-all[0].x)
		marked := true
		for _, s := range all[last:] {
			marked = marked && mark(s.x, b)
		}
		if marked && gap >= span/2 && gap > 1 || !classes && gap >= 5*span && all[last].n > 1 {
			return k
		}
	}
	return 0
}

// without returns the numbers that are not among the odd ones.
func without(all, odd []step) []step {
	var out []step
	for _, s := range all {
		if !slices.Contains(odd, s) {
			out = append(out, s)
		}
	}
	return out
}

func total(all []step) (n int) {
	for _, s := range all {
		n += s.n
	}
	return n
}

// median returns the lower median; 0 of nothing.
func median(all []step) float64 {
	half := (total(all) + 1) / 2
	for _, s := range all {
		if half -= s.n; half <= 0 {
			return s.x
		}
	}
	return 0
}

// values sums up the sound numbers of a quantity, turned into values by scale
// and offset; nil where there are none.
func values(sound, odd []step, scale, offset float64) *Values {
	if len(sound) == 0 {
		return nil
	}
	at := func(x float64) float64 { return float64(x*scale) + offset }
	a, b := at(sound[0].x), at(sound[len(sound)-1].x)
	v := &Values{Low: tidy(min(a, b)), High: tidy(max(a, b)), Median: tidy(at(median(sound))), Histogram: histogram(sound, at), Without: []float64{}}
	for _, s := range odd {
		if s.x-s.x == 0 { // JSON has no word for the infinite
			v.Without = append(v.Without, s.x)
		}
	}
	return v
}

// mostBins bounds a histogram.
const mostBins = 12

// histogram counts values in steps of a round width: 1, 2 or 5 times a power
// of ten.
func histogram(all []step, at func(float64) float64) []Bin {
	a, b := at(all[0].x), at(all[len(all)-1].x)
	low, high := min(a, b), max(a, b)
	width := roundWidth((high - low) / (mostBins - 1))
	if width == 0 || math.IsInf(width, 0) {
		return []Bin{{tidy(low), tidy(high), 1}}
	}
	first := math.Floor(low/width + 1e-9)
	counts := make([]int, int(math.Floor(high/width+1e-9)-first)+1)
	for _, s := range all {
		i := int(math.Floor(at(s.x)/width+1e-9) - first)
		counts[min(max(i, 0), len(counts)-1)] += s.n
	}
	out := make([]Bin, len(counts))
	sum := float64(total(all))
	for i, n := range counts {
		out[i] = Bin{tidy((first + float64(i)) * width), tidy((first + float64(i) + 1) * width), share(n, sum)}
	}
	return out
}

// roundWidth returns the next round number from x up; 0 of 0.
func roundWidth(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	power := math.Pow(10, math.Floor(math.Log10(x)))
	for _, f := range []float64{1, 2, 5, 10} {
		if f*power >= x {
			return f * power
		}
	}
	return 10 * power
}

// classes lists codes with names and shares, the largest first.
func classes(all []step, names map[int32]string) []Class {
	out := []Class{}
	sum := float64(total(all))
	for _, s := range all {
		code := int64(s.x)
		out = append(out, Class{Code: &code, Name: names[int32(code)], Share: share(s.n, sum)})
	}
	slices.SortStableFunc(out, func(a, b Class) int { return cmp.Compare(b.Share, a.Share) })
	return out
}

// share is n / sum, rounded to a millionth.
func share(n int, sum float64) float64 { return math.Round(float64(n)/sum*1e6) / 1e6 }

// tidy rounds to nine figures, which float32 values do not exceed.
func tidy(x float64) float64 {
	var out float64
	if _, err := fmt.Sscan(fmt.Sprintf("%.9g", x), &out); err != nil {
		return x
	}
	return out
}

// nothing tells whether a class name says that nothing is known.
func nothing(name string) bool {
	lower := strings.ToLower(name)
	for _, word := range []string{"nodata", "no data", "no_data", "unclassified", "outside", "no value", "not mapped"} {
		if strings.Contains(lower, word) {
			return true
		}
	}
	return false
}
