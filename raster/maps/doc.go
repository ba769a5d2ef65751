// Package maps brings any map onto the grid of a run: rasters of any
// coordinate reference system, cell size and coding, and polygons. It is the
// one door to GDAL for cells.
//
// A map is opened once into a [Source]; every worker asks it for a [Reader]
// with handles and buffers of its own. What the values mean is left to the
// rooms above: this one knows scale, unit, missing values and class codes,
// and which numbers cannot be what they claim to be.
//
// Values: quantities are float32 in the unit the plan names, NaN where
// missing; classes are int32 codes, raster.MissingCode where missing.
//
// Method: positions come from package crs; quantities of a coarser map are
// bilinear between its cell centres, those of a finer map the mean over
// points spread evenly in the grid cell; classes are the holding cell's or
// the most frequent. All of it is plain arithmetic on windows of whole source
// cells, evaluated in a fixed order, so that no tile size changes a bit.
package maps
