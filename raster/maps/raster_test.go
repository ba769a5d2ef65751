package maps

import (
	"testing"

	"likelyground/raster"
)

// Check N4 of the published list: GDAL's bilinear, refining 0 10/20 30 to
// 4 × 4.
func TestRefineMatchesPublishedExample(t *testing.T) {
	f := fixture{crs: "EPSG:25831", affine: [6]float64{500000, 20, 0, 6200000, 0, -20}, cols: 2, rows: 2,
		values: func(c, r int) float64 { return float64(10*c + 20*r) }}
	got := read(t, open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}}, metricGrid(4, 4, 10)))
	want := []float32{0, 2.5, 7.5, 10, 5, 7.5, 12.5, 15, 15, 17.5, 22.5, 25, 20, 22.5, 27.5, 30}
	sameTile(t, "refined", got, raster.Tile{Window: got.Window, Values: want})
}
