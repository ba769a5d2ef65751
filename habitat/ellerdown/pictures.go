package ellerdown

import (
	"math"

	"likelyground/raster"
	"likelyground/raster/cog"
)

// Where the country lies: its middle, in EPSG:25831, far out in the North Sea
// (55.3° N, 2.6° E), over 200 km from any coast; the largest country reaches
// from 1.0° to 4.2° E and from 54.4° to 56.2° N, still without meeting land.
const middleX, middleY = 475_000, 6_128_000

// countryGrid is the grid of the ground map. Its corner lies on a node.
func countryGrid(s Size) raster.Grid {
	half := func(n int) float64 { return math.Floor(float64(n)/(2*perNode)+0.5) * nodeSide }
	return raster.Grid{
		CRS: countryCRS, X0: middleX - half(s.Cols), Y0: middleY + half(s.Rows),
		DX: cellSide, DY: cellSide, Cols: s.Cols, Rows: s.Rows,
	}
}

// rimWidth is how far the other maps go on beyond the ground map, metres:
// neighbourhoods read on there.
const rimWidth = 700

func boxOf(g raster.Grid) box {
	west, south, east, north := g.Bounds()
	return box{west, south, east, north}
}

func groundPicture(g raster.Grid) picture {
	none := -9999.0
	return picture{
		file: "dem.tif",
		layout: cog.Layout{
			Grid: g, Sample: cog.Float32, Nodata: &none,
			Bands:    []cog.Band{{Description: "height of the ground", Unit: "m"}},
			Metadata: credits("heights of the Ellerdown Hills"),
		},
		painters: func() (painter, error) {
			m := &groundMap{grid: g}
			return painter{m.draw, func() {}}, nil
		},
	}
}

func coverPicture(country box) (picture, error) {
	at, err := place(country.grow(rimWidth), "EPSG:3035", 20)
	if err != nil {
		return picture{}, err
	}
	none := float64(NoCover)
	return picture{
		file: "cover.tif",
		layout: cog.Layout{
			Grid: at.grid, Sample: cog.Byte, Nodata: &none, Overview: cog.Mode,
			Bands:    []cog.Band{{Description: "cover"}},
			Metadata: credits("cover of the Ellerdown Hills"),
		},
		painters: func() (painter, error) {
			r, err := at.lattice.Reader()
			if err != nil {
				return painter{}, err
			}
			m := &coverMap{placed: at, reader: r}
			return painter{m.draw, m.close}, nil
		},
	}, nil
}

func soilPicture(country box) (picture, error) {
	at, err := place(country.grow(rimWidth), "EPSG:4326", 0.002)
	if err != nil {
		return picture{}, err
	}
	none := -32768.0
	return picture{
		file: "soil_ph.tif",
		layout: cog.Layout{
			Grid: at.grid, Sample: cog.Int16, Nodata: &none,
			Bands:    []cog.Band{{Description: "pH of the topsoil in water, times 10"}},
			Metadata: credits("soil of the Ellerdown Hills"),
		},
		painters: func() (painter, error) {
			r, err := at.lattice.Reader()
			if err != nil {
				return painter{}, err
			}
			m := &soilMap{placed: at, reader: r}
			return painter{m.draw, m.close}, nil
		},
	}, nil
}

func credits(what string) map[string]string {
	return map[string]string{
		"TIFFTAG_IMAGEDESCRIPTION": what + ", an invented country",
		"TIFFTAG_COPYRIGHT":        "invented for likelyground, CC0-1.0",
	}
}
