package start

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// quantile returns the value that a share of the values, which rise, does not
// exceed; NaN of none.
func quantile(values []float32, share float64) float32 {
	if len(values) == 0 {
		return float32(math.NaN())
	}
	at := int(math.Ceil(share*float64(len(values)))) - 1
	return values[min(max(at, 0), len(values)-1)]
}

// five sums values up.
type five struct {
	Lowest  float64 `json:"lowest"`
	Quarter float64 `json:"lower_quarter"` // a quarter lies at or below
	Middle  float64 `json:"middle"`
	Upper   float64 `json:"upper_quarter"`
	Highest float64 `json:"highest"`
}

func fiveOf(values []float32) *five {
	if len(values) == 0 {
		return nil
	}
	at := func(share float64) float64 { return float64(quantile(values, share)) }
	return &five{at(0), at(0.25), at(0.5), at(0.75), at(1)}
}

// roundStep returns the next of 1, 2 or 5 times a power of ten from x up.
func roundStep(x float64) float64 {
	if !(x > 0) || math.IsInf(x, 0) {
		return 1
	}
	power := math.Pow(10, math.Floor(math.Log10(x)))
	for _, f := range []float64{1, 2, 5} {
		if f*power >= x*(1-1e-9) {
			return f * power
		}
	}
	return 10 * power
}

// spreadOf is what most of the ground holds: nine tenths of it lie from low to
// high, half from lower to upper, all in steps that can be read.
type spreadOf struct{ low, lower, middle, upper, high, step float64 }

func newSpread(values []float32) spreadOf {
	at := func(share float64) float64 { return float64(quantile(values, share)) }
	s := spreadOf{at(0.05), at(0.25), at(0.5), at(0.75), at(0.95), 0}
	width := s.high - s.low
	if width == 0 {
		width = at(1) - at(0)
	}
	if width == 0 {
		width = math.Abs(s.low) / 10
	}
	s.step = roundStep(width / 20)
	for _, x := range []*float64{&s.low, &s.lower, &s.middle, &s.upper, &s.high} {
		*x = s.round(*x)
	}
	return s
}

func (s spreadOf) round(x float64) float64 { return tidy(math.Round(x/s.step) * s.step) }
func (s spreadOf) down(x float64) float64  { return tidy(math.Floor(x/s.step+1e-6) * s.step) }
func (s spreadOf) up(x float64) float64    { return tidy(math.Ceil(x/s.step-1e-6) * s.step) }

// flat tells whether the ground is all one.
func (s spreadOf) flat() bool { return s.low == s.high }

// tidy rounds to nine figures.
func tidy(x float64) float64 {
	out, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 9, 64), 64)
	if err != nil {
		return x
	}
	return out + 0 // no negative zero
}

// number writes a number without exponent.
func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// point is a corner of a curve.
type point struct{ x, y float64 }

// curve joins points, of those at one place the best, as the plan writes them.
func curve(points ...point) string {
	slices.SortStableFunc(points, func(a, b point) int {
		switch {
		case a.x < b.x || a.x == b.x && a.y > b.y:
			return -1
		case a.x == b.x && a.y == b.y:
			return 0
		}
		return 1
	})
	var out []string
	for i, p := range points {
		if i > 0 && float32(points[i-1].x) == float32(p.x) {
			continue
		}
		out = append(out, number(p.x)+": "+number(p.y))
	}
	return "{" + strings.Join(out, ", ") + "}"
}

// usual is the curve that takes what is common on the ground as good and what
// is rare as less so; words say so.
func (s spreadOf) usual(unit string) (text, words string) {
	if s.flat() {
		return curve(point{s.middle, 1}), fmt.Sprintf("All of this ground is about %s, so the map tells nothing apart here: 1 everywhere.", withUnit(s.middle, unit))
	}
	return curve(point{s.low, 0.4}, point{s.lower, 1}, point{s.upper, 1}, point{s.high, 0.4}),
		fmt.Sprintf("Nine tenths of this ground lie %s, half of it %s. To begin with, what is common here is as good as it gets (1) and what is rare is less good (0.4); between, the score goes straight from one to the other.",
			fromTo(s.low, s.high, unit), fromTo(s.lower, s.upper, unit))
}

// gentle is the curve of a slope: level and usual ground is good, the steepest
// half as good.
func (s spreadOf) gentle() (text, words string) {
	if s.flat() {
		return curve(point{s.middle, 1}), fmt.Sprintf("All of this ground is about %s steep: 1 everywhere.", withUnit(s.middle, "degrees"))
	}
	return curve(point{s.middle, 1}, point{s.high, 0.5}),
		fmt.Sprintf("Half of this ground is less steep than %s, and one part in twenty steeper than %s. To begin with, the gentler half is as good as it gets (1) and the steepest ground half as good (0.5).",
			withUnit(s.middle, "degrees"), number(s.high))
}

// like is the curve that favours ground like that of places, which lie from
// low to high, within what the quantity can be.
func (s spreadOf) like(low, high float64, can [2]float64) string {
	low, high = s.down(low), s.up(high)
	far := s.up(max((high-low)/2, (s.high-s.low)/10, s.step))
	points := []point{{max(low, can[0]), 1}, {min(high, can[1]), 1}}
	if low > can[0] {
		points = append(points, point{max(tidy(low-far), can[0]), 0.2})
	}
	if high < can[1] {
		points = append(points, point{min(tidy(high+far), can[1]), 0.2})
	}
	return curve(points...)
}

func fromTo(a, b float64, unit string) string {
	if unit == "pH" {
		return fmt.Sprintf("from pH %s to %s", number(a), number(b))
	}
	return fmt.Sprintf("from %s to %s", number(a), withUnit(b, unit))
}

func withUnit(x float64, unit string) string {
	switch unit {
	case "":
		return number(x)
	case "pH":
		return "pH " + number(x)
	case "percent":
		return number(x) + " %"
	}
	return number(x) + " " + unit
}

// metresWords writes a length.
func metresWords(m float64) string {
	if m >= 1000 {
		return number(tidy(math.Round(m/100)/10)) + " km"
	}
	return number(tidy(math.Round(m*100)/100)) + " m"
}

// percentWords writes a share: what is there is never told as 0 %.
func percentWords(share float64) string {
	switch p := 100 * share; {
	case p == 0:
		return "0 %"
	case p < 0.1:
		return "under 0.1 %"
	case p < 10:
		return fmt.Sprintf("%.1f %%", p)
	default:
		return fmt.Sprintf("%.0f %%", p)
	}
}
