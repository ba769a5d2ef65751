package maps

import (
	"math/rand/v2"
	"testing"

	"likelyground/raster"
	"likelyground/vector"
)

// geology is a map of 1500 polygons with common borders over a box.
func geology(b *testing.B, west, south, east, north float64) string {
	r := rand.New(rand.NewPCG(1, 1))
	var features []drawn
	for i, ring := range mesh(r, west, south, east, north, 39, 0.8) {
		var fine vector.Ring // corners every 1/30 of a side
		for k := 1; k < len(ring); k++ {
			for j := range 30 {
				u := float64(j) / 30
				fine = append(fine, vector.Point{ring[k-1][0] + u*(ring[k][0]-ring[k-1][0]), ring[k-1][1] + u*(ring[k][1]-ring[k-1][1])})
			}
		}
		fine = append(fine, fine[0])
		features = append(features, drawn{[]vector.Polygon{{fine}}, []string{`"sand"`, `"clay"`, `"chalk"`}[i%3]})
	}
	return drawnMap(b, features)
}

func benchRead(b *testing.B, p *Polygons, side int) {
	r, err := p.Reader()
	must(b, err)
	defer r.Close()
	tile := raster.NewClassTile(raster.Window{Cols: side, Rows: side})
	b.ReportAllocs()
	for b.Loop() {
		for row := 0; row < p.grid.Rows; row += side {
			for col := 0; col < p.grid.Cols; col += side {
				tile.Window = raster.Window{Col: col, Row: row, Cols: side, Rows: side}
				must(b, r.Read(tile, nil))
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(p.grid.Cells()), "ns/cell")
}

func BenchmarkPolygonTiles512(b *testing.B) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 4e5, Y0: 5.82e6, DX: 10, DY: 10, Cols: 2000, Rows: 2000}
	benchRead(b, openDrawn(b, PolygonSpec{File: geology(b, 3.9e5, 5.79e6, 4.3e5, 5.83e6), CRS: "EPSG:25831"}, g), 512)
}

func BenchmarkLargePolygonTiles512(b *testing.B) {
	ring := coast(2500, 2500, 2500, 100000)
	g := plainGrid(5000, 5000)
	benchRead(b, openDrawn(b, PolygonSpec{File: drawnMap(b, []drawn{{[]vector.Polygon{{ring}}, "1"}}), CRS: g.CRS}, g), 512)
}

func BenchmarkPolygonImport(b *testing.B) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 4e5, Y0: 5.82e6, DX: 10, DY: 10, Cols: 2000, Rows: 2000}
	file := geology(b, 1.5, 52.3, 2.0, 52.6)
	for b.Loop() {
		p, err := OpenPolygons(PolygonSpec{Name: "rock", File: file, Field: "class"}, g)
		must(b, err)
		p.Close()
	}
}
