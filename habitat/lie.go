package habitat

import (
	"fmt"

	"likelyground/habitat/layers"
	"likelyground/raster/crs"
	"likelyground/raster/terrain"
)

// lieOf tells how the grid lies on the earth, worked out when it is first
// asked.
func (b *builder) lieOf() (layers.Lie, error) {
	if b.lie != nil {
		return *b.lie, nil
	}
	lie, err := crs.NewLie(b.grid.Grid)
	if err != nil {
		return layers.Lie{}, err
	}
	low, high, ok, err := lie.Latitudes(b.grid.Window())
	if err == nil && !ok {
		err = &layers.Mismatch{What: fmt.Sprintf("the grid lies nowhere on the earth in %s, so nothing is known of its sunshine", b.grid.info.Name), Fix: "check the crs and the bounds of the grid"}
	}
	if err != nil {
		return layers.Lie{}, err
	}
	b.lie = &layers.Lie{Low: low, High: high, Open: func() (terrain.Lie, func() error, error) {
		r, err := lie.Reader()
		if err != nil {
			return nil, nil, err
		}
		return r, r.Close, nil
	}}
	return *b.lie, nil
}
