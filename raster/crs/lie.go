package crs

import (
	"math"

	"likelyground/raster"
)

// Lie knows how a grid lies on the earth: the latitude of its cells, and how
// far the grid's north is turned from true north there. Both are worked out at
// nodes some kilometres apart, on a lattice that hangs on the grid alone, and
// taken in a straight line between them: off by less than 0.01 degrees but
// within some nodes of a pole.
type Lie struct {
	grid  raster.Grid
	every int // cells from node to node, a power of two
}

// nodesApart is how far apart nodes are at least, in metres on the map.
const nodesApart = 10_000

// NewLie readies the Lie of a grid. It is a [Refusal] when the grid's CRS does
// not lead to longitude and latitude.
func NewLie(g raster.Grid) (*Lie, error) {
	ground, err := openGround(g.CRS)
	if err != nil {
		return nil, err
	}
	defer ground.close()
	metres := ground.metres
	if ground.direct {
		metres = ground.radius * math.Pi / 180 * ground.unit
	}
	l := &Lie{g, 8}
	for float64(l.every)*max(g.DX, g.DY)*metres < nodesApart && l.every < 1<<20 {
		l.every *= 2
	}
	return l, nil
}

// Latitudes returns the least and the largest latitude, in degrees, of the
// nodes in and around a window of the grid; ok is false where none of them
// lies on the earth.
func (l *Lie) Latitudes(w raster.Window) (low, high float64, ok bool, err error) {
	r, err := l.Reader()
	if err != nil {
		return 0, 0, false, err
	}
	defer r.Close()
	low, high = 90, -90
	for j := w.Row / l.every; j <= (w.EndRow()-1)/l.every+1; j++ {
		for i := w.Col / l.every; i <= (w.EndCol()-1)/l.every+1; i++ {
			if n := r.node(i, j); n[0] == n[0] {
				lat := math.Asin(n[0]) * 180 / math.Pi
				low, high, ok = min(low, lat), max(high, lat), true
			}
		}
	}
	return low, high, ok, nil
}

// LieReader reads a Lie for one worker.
type LieReader struct {
	lie   *Lie
	g     *ground
	nodes map[[2]int]vector // sine of the latitude, cosine and sine of the turn
}

// Reader opens a reader. It owns C memory that only Close frees.
func (l *Lie) Reader() (*LieReader, error) {
	g, err := openGround(l.grid.CRS)
	return &LieReader{l, g, map[[2]int]vector{}}, err
}

// Close frees what the reader holds.
func (r *LieReader) Close() error {
	r.g.close()
	return nil
}

// Row sets, for the cells of a row from col on, the sine of the latitude and
// the cosine and sine of the angle, clockwise, from true north to the grid's
// north; NaN where there is no earth. The slices have one length.
func (r *LieReader) Row(col, row int, sinLat, cosTurn, sinTurn []float64) {
	every := r.lie.every
	j, v := r.split(row)
	for from := 0; from < len(sinLat); {
		i, _ := r.split(col + from)
		to := min((i+1)*every-col, len(sinLat))
		a, b := mixed(r.node(i, j), r.node(i, j+1), v), mixed(r.node(i+1, j), r.node(i+1, j+1), v)
		for k := from; k < to; k++ {
			_, u := r.split(col + k)
			m := mixed(a, b, u)
			sinLat[k], cosTurn[k], sinTurn[k] = m[0], m[1], m[2]
		}
		from = to
	}
}

// split returns the node before a cell's centre and the centre's place
// between it and the next, 0 to 1.
func (r *LieReader) split(cell int) (node int, between float64) {
	every := r.lie.every
	node = int(math.Floor(float64(cell) / float64(every)))
	return node, (float64(cell-node*every) + 0.5) / float64(every)
}

func mixed(a, b vector, t float64) vector {
	return vector{
		float64(a[0]*(1-t)) + float64(b[0]*t),
		float64(a[1]*(1-t)) + float64(b[1]*t),
		float64(a[2]*(1-t)) + float64(b[2]*t),
	}
}

// node returns what is known at a node, and keeps it.
func (r *LieReader) node(i, j int) vector {
	at := [2]int{i, j}
	n, ok := r.nodes[at]
	if !ok {
		g, every := r.lie.grid, float64(r.lie.every)
		n = r.g.lieAt(g.X0+float64(i)*every*g.DX, g.Y0-float64(j)*every*g.DY)
		r.nodes[at] = n
	}
	return n
}

// lieAt returns the sine of the latitude of a place, and the cosine and sine
// of the azimuth in which the map's north lies; NaN where there is no earth.
func (g *ground) lieAt(x, y float64) vector {
	h := g.step()
	xs, ys := [3]float64{x, x, x}, [3]float64{y, y - h, y + h}
	g.lonLat(xs[:], ys[:])
	for i := range xs {
		if !finite(xs[i], ys[i]) {
			return vector{math.NaN(), math.NaN(), math.NaN()}
		}
	}
	sinLat, cosLat := math.Sincos(ys[0] * math.Pi / 180)
	sinLon, cosLon := math.Sincos(xs[0] * math.Pi / 180)
	step := g.place(xs[2], ys[2]).minus(g.place(xs[1], ys[1]))
	east := step.dot(vector{-sinLon, cosLon, 0})
	north := step.dot(vector{-sinLat * cosLon, -sinLat * sinLon, cosLat})
	length := math.Hypot(east, north)
	return vector{sinLat, north / length, east / length}
}
