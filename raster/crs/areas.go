package crs

import (
	"math"
	"sync"

	"likelyground/raster"
)

// areaError is the largest relative error of areas interpolated between nodes.
const areaError = 2e-8

// Areas measures the cells of a grid on the ellipsoid of its CRS. It holds C
// memory that only Close frees; any number of readers may share it.
type Areas struct {
	grid   raster.Grid
	mu     sync.Mutex // guards ground
	ground *ground
}

// NewAreas returns the areas of a grid's cells. A CRS that cannot be understood
// is a [Refusal].
func NewAreas(g raster.Grid) (*Areas, error) {
	ground, err := openGround(g.CRS)
	if err != nil {
		return nil, err
	}
	return &Areas{grid: g, ground: ground}, nil
}

// Close frees what is held, once all readers are done.
func (a *Areas) Close() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.ground.close()
}

// Reader returns a reader for one worker.
func (a *Areas) Reader() *AreaReader {
	return &AreaReader{m: newMeshReader(&cellAreas{a: a})}
}

// AreaReader reads [Areas]. It is not for two goroutines.
type AreaReader struct {
	m   *meshReader
	row []float64
	aux []float64
}

// Row fills out with the areas, in square millimetres, of the cells col to
// col+cols of a grid row; a cell that lies nowhere on the earth has 0. The
// values do not depend on the part of the row that is asked for.
func (r *AreaReader) Row(col, cols, row int, out []int64) {
	r.row, r.aux = resized(r.row, cols), resized(r.aux, cols)
	r.m.fill(col, cols, row, 1, 0, r.row, r.aux)
	for i, v := range r.row {
		if v == v {
			out[i] = int64(v + 0.5)
		} else {
			out[i] = 0
		}
	}
}

// cellAreas is the field of areas in mm² (first component; the second is 0).
type cellAreas struct {
	a              *Areas
	found          []tangents
	stepsX, stepsY []float64
}

func (f *cellAreas) at(u, v []float64) {
	g := f.a.grid
	for i := range u {
		u[i], v[i] = g.X0+float64(u[i]*g.DX), g.Y0-float64(v[i]*g.DY)
	}
	n := len(u)
	if cap(f.found) < n {
		f.found = make([]tangents, n)
	}
	f.stepsX, f.stepsY = resized(f.stepsX, 4*n), resized(f.stepsY, 4*n)
	f.a.mu.Lock()
	f.a.ground.tangentsAt(u, v, f.found[:n], f.stepsX, f.stepsY)
	f.a.mu.Unlock()
	scale := g.DX * g.DY * 1e6
	for i := range u {
		if e := f.found[i].element(); e > 0 {
			u[i], v[i] = e*scale, 0
		} else {
			u[i], v[i] = math.Inf(1), math.Inf(1)
		}
	}
}

func (f *cellAreas) good(s slope, du, _ float64) bool {
	return math.Abs(du) <= areaError*s.u
}

// ScaleError returns the largest relative deviation of lengths measured in the
// grid's CRS from lengths on the ground, in any direction, over the grid's
// corners, the middles of its edges and its centre: 0.0004 in the middle of a
// UTM zone, 0.6 on a web map at 52° north. A geographic grid, and one of which
// nothing lies on the earth, is a [Refusal].
func ScaleError(g raster.Grid) (float64, error) {
	ground, err := openGround(g.CRS)
	if err != nil {
		return 0, err
	}
	defer ground.close()
	west, south, east, north := g.Bounds()
	if ground.direct {
		box, _ := UsableBox(g.CRS, west, south, east, north)
		return 0, refuse("use a projected CRS such as "+SuggestProjected(box), "the grid is in longitude and latitude, which are no lengths")
	}
	var x, y []float64
	for _, px := range []float64{west, (west + east) / 2, east} {
		for _, py := range []float64{south, (south + north) / 2, north} {
			x, y = append(x, px), append(y, py)
		}
	}
	found := make([]tangents, len(x))
	ground.tangentsAt(x, y, found, make([]float64, 4*len(x)), make([]float64, 4*len(x)))
	return worstScale(found, ground.metres, g)
}

func worstScale(found []tangents, metres float64, g raster.Grid) (float64, error) {
	worst, known := 0.0, false
	for _, t := range found {
		least, most := t.stretch()
		if least <= 0 {
			continue
		}
		known = true
		worst = max(worst, math.Abs(metres/least-1), math.Abs(metres/most-1))
	}
	if !known {
		return 0, refuse(remedyCRS, "the grid at %g %g in %s lies nowhere on the earth", g.X0, g.Y0, shorten(g.CRS))
	}
	return worst, nil
}
