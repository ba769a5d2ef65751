package maps

import "likelyground/raster"

// Source is a map aligned to one grid. It may be used by several goroutines,
// each with a Reader of its own.
type Source interface {
	// Reader opens handles and buffers for one goroutine.
	Reader() (Reader, error)
	// Close frees what the source itself holds; its readers are closed first.
	Close() error
}

// Reader brings windows of a map onto the grid. It is not for two goroutines.
type Reader interface {
	// Read fills dst, whose window may reach beyond the grid: cells are then
	// read on the grid's lattice, continued. Quantities go to dst.Values (NaN
	// where missing), class codes to dst.Codes (raster.MissingCode where
	// missing); a reader of the other kind of map refuses dst.
	//
	// need marks the cells of dst that are judged and counted, in the order
	// of dst's data; nil marks all. Every cell is filled, marked or not. A
	// cell marked in two calls is counted twice.
	Read(dst raster.Tile, need []bool) error
	// Close frees the reader and hands its counts to the source.
	Close() error
}
