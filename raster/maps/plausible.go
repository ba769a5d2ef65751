package maps

import (
	"fmt"
	"os"

	"github.com/airbusgeo/godal"
)

// mostPiece is how large a piece of a file may be that can only be decoded as
// a whole: every worker holds one.
const mostPiece = 128 << 20

// plausible refuses a file that claims more than it can hold or than can be
// read within bounds: a few bytes may say that they are a million million
// cells.
func (f *rasterFile) plausible(format string, band godal.Band) error {
	if short := textGridShort(format, f.path, f.cols, f.rows); short != nil {
		return short
	}
	st := band.Structure()
	bytes := float64(st.BlockSizeX) * float64(st.BlockSizeY) * float64(st.DataType.Size())
	if format == "VRT" || bytes <= mostPiece { // a virtual raster is not read in its own pieces
		return nil
	}
	return &Problem{File: f.path, Band: f.band + 1,
		What: fmt.Sprintf("it is stored in pieces of %d × %d cells, %.0f MB each, which must be unpacked whole", st.BlockSizeX, st.BlockSizeY, bytes/1e6),
		Fix:  "write it anew in tiles: gdal_translate -co TILED=YES -co COMPRESS=DEFLATE old.tif new.tif"}
}

// textGridShort returns the problem of a grid of numbers in text that has
// fewer bytes than two a cell, nil for none and for other formats. GDAL goes
// on looking for its numbers beyond the end.
func textGridShort(format, path string, cols, rows int) error {
	if format != "AAIGrid" && format != "GRASSASCIIGrid" && format != "ISG" {
		return nil
	}
	info, err := os.Stat(path)
	if err != nil || float64(info.Size()) >= 2*float64(cols)*float64(rows)-1 {
		return nil
	}
	return &Problem{File: path, What: fmt.Sprintf("the file is cut short: it has %d bytes, and should hold %d × %d numbers", info.Size(), cols, rows), Fix: "fetch it again"}
}
