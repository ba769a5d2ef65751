package terrain

import (
	"math"

	"likelyground/raster"
)

// Day is where the sun stands on a day of the year: its declination and the
// distance of the earth, after Allen, Pereira, Raes & Smith (1998, Crop
// evapotranspiration, FAO Irrigation and Drainage Paper 56), equations 23 and
// 24.
type Day struct {
	sinDec, cosDec float64
	strength       float64 // MJ/m² of a radian of the hour angle, for rays that fall straight on
}

// solarConstant is the power outside the air, MJ/m² in a minute (FAO-56).
const solarConstant = 0.0820

// DayOf returns a day of the year, 1 to 366.
func DayOf(day int) Day {
	angle := 2 * math.Pi * float64(day) / 365
	sin, cos := math.Sincos(0.409 * math.Sin(angle-1.39))
	return Day{sin, cos, 24 * 60 / (2 * math.Pi) * solarConstant * (1 + float64(0.033*math.Cos(angle)))}
}

// Radiation works out how much direct sunshine falls on slopes in a day. It is
// not for two goroutines.
type Radiation struct {
	sunlit
	day Day
}

// NewRadiation returns the Radiation of a day.
func NewRadiation(d Day, l Lie) *Radiation { return &Radiation{sunlit{lie: l}, d} }

// Values sets dst to the direct radiation of src, in MJ for each square metre
// of sloping ground: FAO-56 equation 21, which is for level ground, with the
// angle between the sun and the ground's upright in place of the sun's height,
// integrated exactly over the hours in which the sun stands above both the
// horizon and the slope's own plane. It is what arrives outside the air, and
// other hills throw no shadow.
func (r *Radiation) Values(dst, src raster.Tile, dx, dy float64) { r.fill(dst, src, dx, dy, r.turn) }

func (r *Radiation) turn(out []float32) {
	n := len(out)
	e, m, u, l := r.leanEast[:n], r.leanNorth[:n], r.upright[:n], r.sinLat[:n]
	for i := range out {
		v := r.day.on(l[i], e[i], m[i], u[i])
		out[i] = float32(max(v, 0)) // NaN stays
	}
}

// on returns the radiation on ground of an upright at a latitude; NaN where
// one is.
//
// With the hour angle w the cosine of the sun's angle to the upright is
// a + b cos w + c sin w, and the sine of its height the same with level
// ground's a and b and no c. Either is above 0 in one span of the day.
func (d Day) on(sinLat, east, north, up float64) float64 {
	cosLat := math.Sqrt(1 - float64(sinLat*sinLat))
	day := spanOf(float64(d.sinDec*sinLat), float64(d.cosDec*cosLat), 0)
	a := d.sinDec * (float64(up*sinLat) + float64(north*cosLat))
	b := d.cosDec * (float64(up*cosLat) - float64(north*sinLat))
	c := 0 - d.cosDec*east
	slope := spanOf(a, b, c)
	return d.strength * slope.sumWithin(day)
}

// span is the part of a day in which f(w) = a + b cos w + c sin w is above 0:
// half degrees of the hour angle either side of mid, 0 ≤ mid ≤ 360.
type span struct {
	a, b, c   float64
	mid, half float64
	rise      float64 // b sin w - c cos w at the end of the span; at its begin minus that
}

// all and none of a day, in degrees either side of noon.
const (
	allDay = 180
	noDay  = -1
)

func spanOf(a, b, c float64) span {
	s := span{a: a, b: b, c: c, half: allDay}
	left := squaredLength(b, c) - float64(a*a)
	switch {
	case left > 0:
		s.rise = math.Sqrt(left)
		s.half = bearing(s.rise, 0-a)
		s.mid = bearing(c, b)
	case a <= 0:
		s.half = noDay
	case left != left:
		s.half = left
	}
	return s
}

// sumWithin integrates f over the part of the span that lies within the day,
// a span around noon.
func (s span) sumWithin(day span) float64 {
	if s.half == noDay || day.half == noDay {
		return 0
	}
	sin, cos := day.ends()
	end, begin := float64(s.b*sin)-float64(s.c*cos), 0-float64(s.b*sin)-float64(s.c*cos)
	if s.half == allDay {
		return s.sum(-day.half, day.half, begin, end)
	}
	sum := 0.0
	for _, mid := range [2]float64{s.mid - 360, s.mid} {
		from, to, first, last := mid-s.half, mid+s.half, 0-s.rise, s.rise
		if from < -day.half {
			from, first = -day.half, begin
		}
		if to > day.half {
			to, last = day.half, end
		}
		if !(from >= to) {
			sum += s.sum(from, to, first, last)
		}
	}
	return sum
}

// ends returns the sine and the cosine of the hour at which the day ends.
func (s span) ends() (sin, cos float64) {
	if s.half == allDay {
		return 0, -1
	}
	return s.rise / s.b, 0 - s.a/s.b
}

// sum integrates f from one hour angle to another, given what b sin w - c cos
// w is there.
func (s span) sum(from, to, first, last float64) float64 {
	return float64(s.a*(to-from)*(math.Pi/180)) + (last - first)
}
