// Package cog writes Cloud-Optimized GeoTIFFs: a grid of one or more bands,
// cut into square blocks that are compressed by the workers as the values
// come, with overviews built on the way, put together at the end without a
// second encoding. It is plain Go and opens nothing but its scratch file.
//
// A [Layout] says what the file holds, [Create] opens a [Writer], each worker
// takes an [Encoder] of its own and puts windows of values in any order, and
// [Writer.Finish] sends the whole file to an io.Writer. The same layout and
// values give the same bytes, whatever windows they came in and however many
// workers put them. Bytes also depend on the version of the compressor,
// which go.mod holds fixed.
//
// What it leaves to others: which coordinate reference system the key tags
// in [GeoTags] mean, rounding of values, the final name of the file.
//
// Units: values are written as they are given; a band's unit, scale and
// offset are declared and never applied. Statistics and overviews are of the
// values as written.
//
// Missing values: a quantity that is NaN and a code that is
// raster.MissingCode are written as the nodata value of the layout, which
// must then be declared; a known value equal to it is refused. Overviews are
// made of the known cells alone, each level from the two by two cells of the
// level before, and an overview cell is missing where none of them is known
// (with [Nearest]: where its north-western cell is missing).
//
// A file of [Colour] shows values instead of holding them: each cell is red,
// green, blue and opacity side by side, and neither units nor statistics are
// declared.
//
// The format: TIFF revision 6.0 (Adobe 1992), BigTIFF above 4 GB, floating
// point predictor (Adobe Photoshop TIFF technical note 3, 2005), GeoTIFF 1.1
// (OGC 19-008r4), Cloud Optimized GeoTIFF (OGC 21-026), and the block leaders,
// trailers, structural header and metadata tags that GDAL's documentation of
// its COG and GTiff drivers describes. Several bands are stored one after the
// other (separate planes), since one band is what people look at. Means and
// deviations are joined after Chan, Golub and LeVeque (1979).
//
// Memory: an unfinished block holds 4 bytes a cell (1 MiB for a block of 512)
// and, in the full resolution, one bit a cell more. Layout.Memory bounds what
// all unfinished blocks hold; beyond it the ones untouched longest wait in
// the scratch file. Besides, each encoder holds one block and its compressed
// form, and the writer about 80 bytes for each block of the file. Windows
// that cover whole blocks are encoded straight from the caller's buffer and
// leave only overviews unfinished: half a kilobyte to two for each column of
// the grid and band when blocks come row after row, far less when they come
// in strips a few blocks wide.
package cog
