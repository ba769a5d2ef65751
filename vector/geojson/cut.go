package geojson

import (
	"errors"
	"math"
	"slices"
)

var (
	errPoleHole = errors.New("a hole goes round a pole, its shell does not")
	errCrossed  = errors.New("an outline crosses itself where it meets the antimeridian")
)

// cut returns the polygon in whole steps, as pieces within -180 and 180 degrees.
func (p Polygon) cut() ([]Polygon, error) {
	if len(p) == 0 || len(p[0]) < 3 {
		return nil, nil
	}
	shell, round, err := p[0].unwrap()
	if err != nil {
		return nil, err
	}
	var holes []Ring
	var polar Ring // the hole round the pole
	for _, r := range p[1:] {
		hole, turns, err := r.unwrap()
		switch {
		case err != nil:
			return nil, err
		case turns != 0 && (round == 0 || polar != nil):
			return nil, errPoleHole
		case turns != 0:
			polar = eastward(hole, turns)
		case len(hole) > 2:
			holes = append(holes, hole)
		}
	}
	if round != 0 {
		return cutPolar(eastward(shell, round), polar, holes)
	}
	return cutPlain(shell, holes)
}

// eastward turns a ring round a pole so that it runs eastward.
func eastward(r Ring, round float64) Ring {
	if round < 0 {
		slices.Reverse(r)
	}
	return r
}

// cutPlain cuts a polygon that holds no pole.
func cutPlain(shell Ring, holes []Ring) ([]Polygon, error) {
	west, east := shell.span()
	by := -whole * math.Floor((west+half)/whole)
	shell.shift(by)
	west, east = west+by, east+by
	rings := []Ring{turned(shell, 1)}
	for _, h := range holes {
		a, b := h.span()
		by := whole * math.Round(((west+east)-(a+b))/(2*whole))
		rings = append(rings, turned(h.shift(by), -1))
	}
	if east <= half {
		return []Polygon{rings}, nil
	}
	left, err := clip(rings, half, true)
	if err != nil {
		return nil, err
	}
	right, err := clip(rings, half, false)
	if err != nil {
		return nil, err
	}
	for _, p := range right {
		for _, r := range p {
			r.shift(-whole)
		}
	}
	return append(left, right...), nil
}

// turned returns the ring running counter-clockwise (way 1) or clockwise (-1).
func turned(r Ring, way float64) Ring {
	if r.turn()*way < 0 {
		slices.Reverse(r)
	}
	return r
}

// cutPolar cuts a polygon whose shell goes round a pole. It lays the polygon
// out as a band, three times round and closed at the pole or at the hole that
// goes round it, and cuts one whole turn out of the middle.
func cutPolar(shell, polar Ring, holes []Ring) ([]Polygon, error) {
	start := shell[0][0]
	band := thrice(shell)
	if polar == nil {
		pole := float64(quarter)
		if meanLatitude(shell) < 0 {
			pole = -quarter
		}
		for k := 3; k >= 0; k-- { // no edge longer than a turn
			band = append(band, Position{start + whole*float64(k), pole})
		}
	} else {
		inner := thrice(beginNear(polar, start))
		slices.Reverse(inner)
		band = append(band, inner...)
	}
	rings := []Ring{turned(band, 1)}
	for _, h := range holes {
		west, _ := h.span()
		h.shift(-whole * math.Floor((west-start)/whole))
		for k := range 3 {
			rings = append(rings, turned(slices.Clone(h).shift(whole*float64(k)), -1))
		}
	}
	from := half + whole*math.Ceil(start/whole) // at least half a turn from either end
	pieces, err := clip(rings, from, false)
	if err != nil {
		return nil, err
	}
	var out []Polygon
	for _, p := range pieces {
		q, err := clip(p, from+whole, true)
		if err != nil {
			return nil, err
		}
		for _, r := range slices.Concat(q...) {
			r.shift(-from - half)
		}
		out = append(out, q...)
	}
	return out, nil
}

// thrice repeats an eastward ring round a pole, and ends where it began.
func thrice(r Ring) Ring {
	out := make(Ring, 0, 3*len(r)+1)
	for k := range 3 {
		for _, p := range r {
			out = append(out, Position{p[0] + whole*float64(k), p[1]})
		}
	}
	return append(out, Position{r[0][0] + 3*whole, r[0][1]})
}

func meanLatitude(r Ring) float64 {
	var sum float64
	for _, p := range r {
		sum += p[1]
	}
	return sum / float64(len(r))
}

// beginNear rotates an eastward ring round a pole to begin at the position
// nearest to a longitude.
func beginNear(r Ring, lon float64) Ring {
	best, least := 0, math.Inf(1)
	for i, p := range r {
		if d := math.Abs(step(lon, p[0])); d < least {
			best, least = i, d
		}
	}
	by := lon + step(lon, r[best][0]) - r[best][0]
	out := append(Ring(nil), r[best:]...).shift(by)
	return append(out, append(Ring(nil), r[:best]...).shift(by+whole)...)
}
