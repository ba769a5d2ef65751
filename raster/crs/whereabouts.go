package crs

/*
#include <proj.h>
*/
import "C"

import "math"

// CellMetres returns the width and height in metres, on the ground, of the
// unit cell of an affine lattice around the place x, y: along its columns and
// along its rows. Both are 0 where the place is nowhere on the earth.
func CellMetres(crsText string, x, y float64, a Affine) (width, height float64, err error) {
	g, err := openGround(crsText)
	if err != nil {
		return 0, 0, err
	}
	defer g.close()
	xs := []float64{x - a[1]/2, x + a[1]/2, x - a[2]/2, x + a[2]/2}
	ys := []float64{y - a[4]/2, y + a[4]/2, y - a[5]/2, y + a[5]/2}
	g.lonLat(xs, ys)
	var at [4]vector
	for i := range at {
		if !finite(xs[i], ys[i]) {
			return 0, 0, nil
		}
		at[i] = g.place(xs[i], ys[i])
	}
	across, down := at[1].minus(at[0]), at[3].minus(at[2])
	return math.Sqrt(across.dot(across)), math.Sqrt(down.dot(down)), nil
}

// MeantFor returns the ground that a CRS is meant for, as the registry keeps
// it, in longitude and latitude; false where it keeps none. It is a [Refusal]
// when the text is no CRS.
func MeantFor(crsText string) (Box, bool, error) {
	s, err := newSession()
	if err != nil {
		return Box{}, false, err
	}
	defer s.close()
	o, err := s.horizontal(crsText)
	if err != nil {
		return Box{}, false, err
	}
	b, ok := o.registered().meantFor()
	return b, ok, nil
}

func (o object) meantFor() (Box, bool) {
	var west, south, east, north C.double
	if C.proj_get_area_of_use(o.s.ctx, o.pj, &west, &south, &east, &north, nil) == 0 || south < -90 {
		return Box{}, false
	}
	return Box{float64(west), float64(south), float64(east), float64(north)}, true
}
