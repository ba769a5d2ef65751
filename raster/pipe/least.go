package pipe

import (
	"fmt"

	"likelyground/raster"
)

// Shortage is a graph whose nodes read so far around a cell that the memory
// allowed cannot hold what one tile needs.
type Shortage struct {
	Need, Limit int64 // bytes
	Node        string
	Reach       int // of Node, the one that reads farthest, in cells
}

func (s *Shortage) Error() string {
	return fmt.Sprintf("%q looks %d cells around each cell, for which %d MB of memory are needed and %d MB are allowed", s.Node, s.Reach, (s.Need>>20)+1, s.Limit>>20)
}

// farBytes is how much memory a worker needs for a cell of a window that a
// node reads beyond its own tile: its value, and what the kernels keep of it.
const farBytes = 24

// fits returns a [Shortage] where one tile of each worker, with what must be
// kept for it, needs more than the limit.
func (s *shape) fits(w raster.Window, o Options) error {
	need := s.least(w, o)
	if o.Limit <= 0 || need <= max(o.Limit, o.Memory) {
		return nil
	}
	short := &Shortage{Need: need, Limit: o.Limit}
	for _, u := range append([]*unit{s.sink}, s.units...) {
		for _, e := range u.reads {
			if e.reach > short.Reach {
				short.Node, short.Reach = e.reader.Name, e.reach
			}
		}
	}
	return short
}

// least estimates the bytes that a strip of one tile needs.
func (s *shape) least(w raster.Window, o Options) int64 {
	grown := func(reach int) int64 {
		return int64(min(o.Tile, w.Cols)+2*reach) * int64(min(o.Tile, w.Rows)+2*reach)
	}
	var worker, kept int64
	for _, u := range append([]*unit{s.sink}, s.units...) {
		worker += 4 * int64(len(u.order)) * grown(0)
		for _, e := range u.reads {
			if e.reach > 0 {
				worker += farBytes * grown(e.reach)
			}
		}
		if u != s.sink {
			kept += 4 * grown(s.reachOf(u))
		}
	}
	return int64(o.Workers)*worker + kept
}
