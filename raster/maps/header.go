package maps

import (
	"fmt"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
	"likelyground/raster/crs"
)

// Header is where the cells of a raster map lie.
type Header struct {
	CRS        string // as the file or the spec names it
	Affine     crs.Affine
	Cols, Rows int
}

// ReadHeader returns the lattice of a map, over all of its files as far as
// they continue the first one's. It reads no cell and needs no grid.
func ReadHeader(s RasterSpec) (Header, error) {
	if err := Setup(0); err != nil {
		return Header{}, err
	}
	if err := s.validate(); err != nil {
		return Header{}, err
	}
	var all part
	for i, path := range s.Files {
		f, err := openHeader(&s, path)
		if err != nil {
			return Header{}, err
		}
		if i == 0 {
			all.affine = f.affine
			all.add(f, 0, 0)
		} else if col, row, ok := all.continues(f, raster.Snap); ok && f.crsText == all.tiles[0].crsText {
			all.add(f, col, row)
		}
	}
	h := Header{CRS: all.tiles[0].crsText, Affine: all.affine, Cols: all.extent.Cols, Rows: all.extent.Rows}
	h.Affine[0], h.Affine[3] = all.affine.Place(float64(all.extent.Col), float64(all.extent.Row))
	return h, nil
}

// Version returns the version of GDAL.
func Version() string {
	v := godal.Version()
	return fmt.Sprintf("%d.%d.%d", v.Major(), v.Minor(), v.Revision())
}
