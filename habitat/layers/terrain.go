package layers

import (
	"fmt"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/nearby"
	"likelyground/raster/pipe"
	"likelyground/raster/terrain"
)

const feet = 0.3048 // metres in an international foot (exact)

// cellIn returns the cell's sides in the unit of the heights, so that a
// gradient comes out without unit.
func cellIn(in Layer, c Context) (dx, dy float64) {
	if in.Unit == plan.UnitFeet {
		return c.DX / feet, c.DY / feet
	}
	return c.DX, c.DY
}

func slope(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	unit := terrain.Degrees
	if d.Percent {
		unit = terrain.Percent
	}
	dx, dy := cellIn(in, c)
	return quantity(in, 1, func(dst, src raster.Tile) { terrain.Slope(dst, src, dx, dy, unit) }), nil
}

func north(_ plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	dx, dy := cellIn(in, c)
	return quantity(in, 1, func(dst, src raster.Tile) { terrain.Northness(dst, src, dx, dy) }), nil
}

func east(_ plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	dx, dy := cellIn(in, c)
	return quantity(in, 1, func(dst, src raster.Tile) { terrain.Eastness(dst, src, dx, dy) }), nil
}

func elevation(_ plan.Derived, in Layer, _ Context) (*pipe.Node, error) {
	return quantity(in, 0, func(dst, src raster.Tile) {
		copy(dst.Values, src.Values)
		times(dst, ToMetres(in.Unit))
	}), nil
}

// times multiplies all values of a tile.
func times(dst raster.Tile, factor float32) {
	if factor == 1 {
		return
	}
	for i := range dst.Values {
		dst.Values[i] *= factor
	}
}

func aspect(_ plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	dx, dy := cellIn(in, c)
	return quantity(in, 1, func(dst, src raster.Tile) { terrain.Aspect(dst, src, dx, dy) }), nil
}

var bends = map[plan.Verb]terrain.Bend{
	plan.ProfileCurvature: terrain.Profile, plan.TangentialCurvature: terrain.Tangential, plan.ContourCurvature: terrain.Contour,
}

// curvature works in the unit of the heights and then, where that is no
// metre, in 1/m.
func curvature(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	dx, dy := cellIn(in, c)
	bend, unit := bends[d.Verb], 1/ToMetres(in.Unit)
	return quantity(in, 1, func(dst, src raster.Tile) {
		terrain.Curvature(dst, src, dx, dy, bend)
		times(dst, unit)
	}), nil
}

func ruggedness(d plan.Derived, in Layer, _ Context) (*pipe.Node, error) {
	by := terrain.Riley
	if d.After == plan.Wilson {
		by = terrain.Wilson
	}
	return quantity(in, 1, func(dst, src raster.Tile) {
		terrain.Ruggedness(dst, src, by)
		times(dst, ToMetres(in.Unit))
	}), nil
}

func relativePosition(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	if err := tooFar(d, d.Within, c); err != nil {
		return nil, err
	}
	disc := nearby.NewDisc(c.DX, c.DY, d.Within)
	if disc.Reach() == 0 {
		return nil, &Mismatch{fmt.Sprintf("%q looks %g m around, and no other cell's centre lies so near: cells are of %g × %g m", d.Name, d.Within, c.DX, c.DY),
			fmt.Sprintf("look at least %g m around, or choose a smaller cell for the grid", min(c.DX, c.DY))}
	}
	return kernel(in, disc.Reach(), func() func(dst, src raster.Tile) {
		m := nearby.NewMean(disc)
		return func(dst, src raster.Tile) {
			m.Above(dst, src)
			times(dst, ToMetres(in.Unit))
		}
	}), nil
}
