package water

import (
	"fmt"

	"likelyground/raster"
)

// Layer is something that a [Water] knows of each cell.
type Layer int

const (
	// Filled is the height at which water stands in hollows, and the ground's
	// own elsewhere.
	Filled Layer = iota
	// HollowDepth is how far Filled lies above the ground, 0 outside hollows.
	HollowDepth
	// HollowArea is the area of the hollow that the cell lies in, 0 outside
	// hollows; see [Water.Hollows].
	HollowArea
	// GatheredOne is the area of the ground that drains through the cell,
	// itself included, when water goes one way; see [Water.GatherOne].
	GatheredOne
	// CutOne is 1 where some of that ground lies beside the rim or a hole, so
	// that GatheredOne may be too little, else 0.
	CutOne
	// GatheredMany and CutMany are the same when water goes to all lower
	// neighbours; see [Water.GatherMany].
	GatheredMany
	CutMany
	// SpecificOne and SpecificMany are the gathered area for each unit of
	// length of contour, a cell's side.
	SpecificOne
	SpecificMany
	// WetnessOne and WetnessMany are ln(a / tan b), a the specific area and b
	// the slope of the ground as it is, tan b at least [LeastFall] (Beven &
	// Kirkby 1979). The index depends on the unit of length: metres, as a rule.
	// Missing where the cell or one of its eight neighbours is.
	WetnessOne
	WetnessMany
)

// View reads layers for one goroutine; several may be open at once, once the
// stages are done. It needs no closing, and ends with its Water.
type View struct {
	w     *Water
	bytes []byte
	base  []float32
	keys  []key
	row   []amount
	words []uint32
	large []placed // of the tile that is read
}

type window = raster.Window

// View returns a new View.
func (w *Water) View() *View { return &View{w: w} }

// Read sets the cells of dst, whose window may reach beyond the ground, where
// everything is missing. A layer whose stage was not done is an error.
func (v *View) Read(layer Layer, dst raster.Tile) error {
	dst.FillMissing()
	w := v.w
	one := w.cellArea()
	each := one / float64(unit)
	switch layer {
	case Filled:
		return v.keyed(filledLayer, dst)
	case HollowDepth:
		return v.depth(dst)
	case HollowArea:
		return v.floats(hollowLayer, dst)
	case GatheredOne:
		return v.gathered(oneLayer, dst, one)
	case GatheredMany:
		return v.gathered(manyLayer, dst, each)
	case SpecificOne:
		return v.gathered(oneLayer, dst, one/w.contour())
	case SpecificMany:
		return v.gathered(manyLayer, dst, each/w.contour())
	case WetnessOne:
		return v.wetness(oneLayer, dst, 1)
	case WetnessMany:
		return v.wetness(manyLayer, dst, unit)
	case CutOne:
		return v.cut(oneLayer, dst)
	case CutMany:
		return v.cut(manyLayer, dst)
	}
	return fmt.Errorf("water: no layer %d", layer)
}

// floats copies numbers from the store.
func (v *View) floats(layer string, dst raster.Tile) error {
	return v.rows(layer, 4, dst.Window, func(at int, bytes []byte) { copy(bytesOf(dst.Values[at:]), bytes) })
}

// keyed sets dst to the heights of keys in the store.
func (v *View) keyed(layer string, dst raster.Tile) error {
	return v.rows(layer, 4, dst.Window, func(at int, bytes []byte) {
		v.keys = sized(v.keys, len(bytes)/4)
		copy(bytesOf(v.keys), bytes)
		out := dst.Values[at:][:len(v.keys)]
		for i, k := range v.keys {
			out[i] = heightOf(k)
		}
	})
}

func (v *View) depth(dst raster.Tile) error {
	if err := v.keyed(filledLayer, dst); err != nil {
		return err
	}
	v.base = sized(v.base, dst.Size())
	ground := raster.Tile{Window: dst.Window, Values: v.base}
	ground.FillMissing()
	if err := v.keyed(groundLayer, ground); err != nil {
		return err
	}
	for i, z := range ground.Values {
		dst.Values[i] -= z
	}
	return nil
}

// gathered reads amounts, each unit worth so much.
func (v *View) gathered(layer string, dst raster.Tile, unit float64) error {
	return v.amounts(layer, dst.Window, func(at int, row []amount) {
		for i, a := range row {
			if a != 0 {
				dst.Values[at+i] = float32(float64(a&^cutMark) * unit)
			}
		}
	})
}

func (v *View) cut(layer string, dst raster.Tile) error {
	return v.amounts(layer, dst.Window, func(at int, row []amount) {
		for i, a := range row {
			if a != 0 {
				dst.Values[at+i] = float32(a >> 63)
			}
		}
	})
}

// notDone is the error of a layer whose stage was not done.
func notDone(layer string) error { return fmt.Errorf("water: %q has not been worked out", layer) }

// partBytes is how much of a record is read at once, as a rule.
const partBytes = 1 << 18

// rows reads a window of a layer tile by tile; f has the bytes of a row of the
// window within a tile, and the place in the window's row-major data where
// they belong.
func (v *View) rows(layer string, size int, w window, f func(at int, bytes []byte)) error {
	return v.tiles(w, func(t int, in window) error {
		return v.tileRows(layer, size, t, in, func(row window, bytes []byte) { f(w.Index(row.Col, row.Row), bytes) })
	})
}

// tiles calls f for each tile that shares cells with a window, and these.
func (v *View) tiles(w window, f func(t int, in window) error) error {
	l := v.w.lattice
	part := w.Clip(l.ground)
	for row := part.Row; row < part.EndRow(); {
		end := row
		for col := part.Col; col < part.EndCol(); {
			t := l.at(col, row)
			in := l.window(t).Clip(part)
			if err := f(t, in); err != nil {
				return err
			}
			col, end = in.EndCol(), in.EndRow()
		}
		row = end
	}
	return nil
}

// tileRows reads the rows of a window in tile t. Whole rows of the tile are read
// together: what is not needed of them costs less than a call for each row.
func (v *View) tileRows(layer string, size, t int, in window, f func(row window, bytes []byte)) error {
	tile := v.w.lattice.window(t)
	length := size * tile.Cols
	most := max(partBytes/length, 1)
	for row := in.Row; row < in.EndRow(); row += most {
		n := min(most, in.EndRow()-row)
		v.bytes = sized(v.bytes, n*length)
		if err := v.w.store.Read(layer, t, (row-tile.Row)*length, v.bytes); err != nil {
			return err
		}
		for y := range n {
			at := window{Col: in.Col, Row: row + y, Cols: in.Cols, Rows: 1}
			f(at, v.bytes[y*length+size*(in.Col-tile.Col):][:size*in.Cols])
		}
	}
	return nil
}
