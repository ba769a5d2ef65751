package layers

import (
	"fmt"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/pipe"
	"likelyground/raster/terrain"
)

// Lie is how the grid lies on the earth.
type Lie struct {
	Low, High float64 // latitudes of the grid, degrees

	// Open returns a reader for one worker and what closes it.
	Open func() (terrain.Lie, func() error, error)
}

// Northernmost is the latitude, in degrees, up to which the equations of heat
// load hold; they hold from the equator on, or from their own latitude.
const northernmost = 60

// lowestLatitude is from which latitude on an equation of heat load holds.
func lowestLatitude(equation int) float64 {
	if equation == int(terrain.Third) {
		return 30
	}
	return 0
}

func heatLoad(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	lie, err := c.Lie()
	if err != nil {
		return nil, err
	}
	number := d.HeatEquation()
	low := lowestLatitude(number)
	if lie.High < low || lie.Low > northernmost {
		return nil, &Mismatch{fmt.Sprintf("%q: equation %d of McCune & Keon (2002) holds from %g to %d degrees north, and the grid lies between %.1f and %.1f", d.Name, number, low, northernmost, lie.Low, lie.High),
			"use radiation with a day, which holds everywhere, or northness"}
	}
	warmest := terrain.Southwest
	if d.Warmest == plan.South {
		warmest = terrain.South
	}
	return sunny(in, c, lie, func(l terrain.Lie) func(dst, src raster.Tile, dx, dy float64) {
		return terrain.NewHeatLoad(terrain.Equation(number), warmest, l).Values
	}), nil
}

func radiation(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	lie, err := c.Lie()
	if err != nil {
		return nil, err
	}
	day := terrain.DayOf(d.Day)
	return sunny(in, c, lie, func(l terrain.Lie) func(dst, src raster.Tile, dx, dy float64) {
		return terrain.NewRadiation(day, l).Values
	}), nil
}

// sunny makes a node from a kernel that asks how the grid lies.
func sunny(in Layer, c Context, lie Lie, open func(terrain.Lie) func(dst, src raster.Tile, dx, dy float64)) *pipe.Node {
	dx, dy := cellIn(in, c)
	return &pipe.Node{Inputs: []*pipe.Node{in.Node}, Reach: 1, Open: func() (pipe.Evaluator, error) {
		l, closing, err := lie.Open()
		if err != nil {
			return nil, err
		}
		eval := open(l)
		return &sunlit{closing, func(dst, src raster.Tile) { eval(dst, src, dx, dy) }}, nil
	}}
}

// sunlit evaluates a layer of sunshine for one worker.
type sunlit struct {
	closing func() error
	eval    func(dst, src raster.Tile)
}

func (s *sunlit) Close() error { return s.closing() }

func (s *sunlit) Eval(out raster.Tile, in []raster.Tile) error {
	s.eval(out, in[0])
	return nil
}
