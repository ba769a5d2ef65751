package layers

import (
	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/nearby"
	"likelyground/raster/pipe"
)

// shareOfParts is the share of some classes where polygons are of several: the
// mean, over the known cells of the disc, of how much of each is of them.
func shareOfParts(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	fraction, err := in.Fraction(d.Of)
	if err == nil {
		err = tooFarFor(d, d.Within, c, true)
	}
	if err != nil {
		return nil, err
	}
	here := Layer{Name: in.Name, Node: &pipe.Node{Name: d.Name + " here", Inputs: []*pipe.Node{in.Node}, Open: pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
		for i, code := range in[0].Codes {
			out.Values[i] = fraction.At(code)
		}
		return nil
	})}}
	disc := nearby.NewDisc(c.DX, c.DY, d.Within)
	return kernel(here, disc.Reach(), func() func(dst, src raster.Tile) { return nearby.NewMean(disc).Values }), nil
}
