package maps

import (
	"fmt"

	"likelyground/raster/crs"
)

// outside is the error of a layer that covers no cell of the grid: it says
// how far off the layer lies and in which direction.
func (m *importer) outside() error {
	p := m.to
	out := &Problem{Map: p.spec.Name, File: p.spec.File, Elsewhere: true,
		What: "its polygons cover no cell of the grid",
		Fix:  "use a map of the grid's ground, or check in which coordinate reference system and which order of coordinates the file is; optional: true goes on without it"}
	w, s, e, n, err := m.from.extent()
	if err != nil {
		return out
	}
	ours, err := usableBox(p.grid)
	if err != nil {
		return out
	}
	if b := (bounds{w, s, e, n}); b.swapped(m.from.crs(), ours) {
		b.hint(out)
		return out
	}
	theirs, err := crs.UsableBox(m.from.crs(), w, s, e, n)
	if err != nil {
		out.What = fmt.Sprintf("its coordinates (%g to %g, %g to %g) lie nowhere on the earth in %s", w, e, s, n, p.facts.CRS)
		return out
	}
	if km, direction := gap(ours, theirs); km > 0 {
		out.What = fmt.Sprintf("it lies wholly outside the grid, %s %s of it", distanceWords(km), direction)
	}
	return out
}
