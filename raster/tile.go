package raster

import "math"

// MissingCode is the class code of a cell whose class is not known.
const MissingCode int32 = math.MinInt32

// Missing is the value of a cell whose quantity is not known. Test for it
// with v != v, as for any NaN.
var Missing = float32(math.NaN())

// Tile is a window with a value for each of its cells, row by row from the
// north-west. It holds either quantities (Values) or class codes (Codes);
// the other slice is nil.
type Tile struct {
	Window
	Values []float32
	Codes  []int32
}

// NewTile returns a tile of quantities, all zero.
func NewTile(w Window) Tile { return Tile{Window: w, Values: make([]float32, w.Size())} }

// NewClassTile returns a tile of class codes, all zero.
func NewClassTile(w Window) Tile { return Tile{Window: w, Codes: make([]int32, w.Size())} }

// Value returns the quantity of a cell given by grid column and row.
func (t Tile) Value(col, row int) float32 { return t.Values[t.Index(col, row)] }

// Code returns the class code of a cell given by grid column and row.
func (t Tile) Code(col, row int) int32 { return t.Codes[t.Index(col, row)] }

// ValueRow returns the quantities of one grid row, the tile's whole width.
func (t Tile) ValueRow(row int) []float32 {
	at := (row - t.Row) * t.Cols
	return t.Values[at : at+t.Cols]
}

// CodeRow returns the class codes of one grid row, the tile's whole width.
func (t Tile) CodeRow(row int) []int32 {
	at := (row - t.Row) * t.Cols
	return t.Codes[at : at+t.Cols]
}

// CopyFrom copies the cells that both tiles hold from src. Both must hold
// the same kind of value.
func (t Tile) CopyFrom(src Tile) {
	w := t.Clip(src.Window)
	for row := w.Row; row < w.EndRow(); row++ {
		to, from := t.Index(w.Col, row), src.Index(w.Col, row)
		if t.Codes != nil {
			copy(t.Codes[to:to+w.Cols], src.Codes[from:from+w.Cols])
		} else {
			copy(t.Values[to:to+w.Cols], src.Values[from:from+w.Cols])
		}
	}
}

// FillMissing sets every cell of the tile to missing.
func (t Tile) FillMissing() {
	fill(t.Values, Missing)
	fill(t.Codes, MissingCode)
}

// fill sets every element, by copies that double in length.
func fill[T any](s []T, v T) {
	if len(s) == 0 {
		return
	}
	s[0] = v
	for done := 1; done < len(s); done *= 2 {
		copy(s[done:], s[:done])
	}
}
