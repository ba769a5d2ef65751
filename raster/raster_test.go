package raster

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func anyWindow(t *rapid.T, name string) Window {
	side := rapid.IntRange(-9, 9)
	size := rapid.IntRange(0, 9)
	return Window{side.Draw(t, name+" col"), side.Draw(t, name+" row"), size.Draw(t, name+" cols"), size.Draw(t, name+" rows")}
}

func holdsCell(w Window, col, row int) bool {
	return col >= w.Col && col < w.EndCol() && row >= w.Row && row < w.EndRow()
}

// TestWindows holds the window arithmetic to its meaning, cell by cell.
func TestWindows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := anyWindow(t, "a"), anyWindow(t, "b")
		both, either, grown := a.Clip(b), a.Union(b), a.Grow(2)
		holds, size := true, 0
		for row := -25; row < 25; row++ {
			for col := -25; col < 25; col++ {
				inA, inB := holdsCell(a, col, row), holdsCell(b, col, row)
				if inA {
					size++
				}
				if holdsCell(both, col, row) != (inA && inB) {
					t.Fatalf("clip at %d, %d", col, row)
				}
				if (inA || inB) && !holdsCell(either, col, row) {
					t.Fatalf("union at %d, %d", col, row)
				}
				if inA && !holdsCell(grown, col+2, row-2) {
					t.Fatalf("grow at %d, %d", col, row)
				}
				holds = holds && (!inB || inA)
			}
		}
		if a.Holds(b) != (holds || b.Empty()) || a.Size() != size {
			t.Fatalf("holds %v, size %d", a.Holds(b), a.Size())
		}
	})
}

func TestIndexGoesRowByRow(t *testing.T) {
	w := Window{Col: -2, Row: 3, Cols: 4, Rows: 3}
	at := 0
	for row := w.Row; row < w.EndRow(); row++ {
		for col := w.Col; col < w.EndCol(); col++ {
			if w.Index(col, row) != at {
				t.Fatalf("cell %d, %d has index %d, want %d", col, row, w.Index(col, row), at)
			}
			at++
		}
	}
}

func TestGridPlaces(t *testing.T) {
	g := Grid{CRS: "EPSG:25831", X0: 500000, Y0: 6000000, DX: 10, DY: 20, Cols: 30, Rows: 40}
	if x, y := g.Position(1.5, 2); x != 500015 || y != 5999960 {
		t.Error(x, y)
	}
	if c, r := g.Cell(500015, 5999960); c != 1.5 || r != 2 {
		t.Error(c, r)
	}
	if w, s, e, n := g.Bounds(); w != 500000 || s != 5999200 || e != 500300 || n != 6000000 {
		t.Error(w, s, e, n)
	}
	if g.Cells() != 1200 || g.Window() != (Window{0, 0, 30, 40}) {
		t.Error(g.Cells(), g.Window())
	}
}

// TestCropTo: outward to whole cells, and not a cell too far where the edge
// lies on a line or a hair beside it.
func TestCropTo(t *testing.T) {
	g := Grid{X0: 100, Y0: 1000, DX: 10, DY: 10, Cols: 50, Rows: 50}
	for _, c := range []struct {
		w, s, e, n float64
		x0, y0     float64
		cols, rows int
	}{
		{120, 900, 160, 950, 120, 950, 4, 5},
		{120 - 1e-7, 900 - 1e-7, 160 + 1e-7, 950 + 1e-7, 120, 950, 4, 5},
		{121, 901, 159, 949, 120, 950, 4, 5},
		{119, 899, 161, 951, 110, 960, 6, 7},
		{55, 990, 105, 1035, 50, 1040, 6, 5},
		{123, 904, 123, 904, 120, 910, 1, 1},
	} {
		got := g.CropTo(c.w, c.s, c.e, c.n)
		if got.X0 != c.x0 || got.Y0 != c.y0 || got.Cols != c.cols || got.Rows != c.rows {
			t.Errorf("%v: %+v", c, got)
		}
	}
}

func TestCellAtEdges(t *testing.T) {
	for p, want := range map[float64]int{0: 0, 0.999: 0, 1 - 1e-7: 1, 1: 1, 1 - 1e-5: 0, -1e-7: 0, -0.5: -1} {
		if got := CellAt(p); got != want {
			t.Errorf("%g lies in cell %d, want %d", p, got, want)
		}
	}
}

func TestTiles(t *testing.T) {
	a := NewTile(Window{Col: 1, Row: 1, Cols: 3, Rows: 2})
	b := NewTile(Window{Col: 2, Row: 0, Cols: 3, Rows: 3})
	for i := range b.Values {
		b.Values[i] = float32(i)
	}
	a.FillMissing()
	a.CopyFrom(b)
	if v := a.Value(1, 1); v == v {
		t.Error("a cell beside the other tile was set")
	}
	if a.Value(2, 1) != b.Value(2, 1) || a.Value(3, 2) != b.Value(3, 2) || a.ValueRow(2)[2] != b.Value(3, 2) {
		t.Error(a.Values)
	}
	c := NewClassTile(Window{Cols: 5, Rows: 7})
	c.FillMissing()
	for _, code := range c.Codes {
		if code != MissingCode {
			t.Fatal(code)
		}
	}
	d := NewClassTile(Window{Col: 4, Row: 6, Cols: 2, Rows: 2})
	d.Codes[0] = 9
	c.CopyFrom(d)
	if c.Code(4, 6) != 9 || c.CodeRow(6)[4] != 9 {
		t.Error(c.Codes)
	}
}

// TestCodeTable asks the same of dense and of scattered codes.
func TestCodeTable(t *testing.T) {
	for _, codes := range [][]int32{{}, {3, 7}, {0, 255}, {-5, 2}, {300, 40000}, {1, math.MaxInt32}, {math.MinInt32 + 1, 4}} {
		values := map[int32]string{}
		for _, c := range codes {
			values[c] = fmt.Sprint(c)
		}
		table := NewCodeTable(values, "missing", "others")
		for _, c := range append(codes, -6, -1, 1, 5, 256, 299, 40001, math.MaxInt32-1, MissingCode) {
			want, ok := values[c]
			if !ok {
				want = "others"
			}
			if c == MissingCode {
				want = "missing"
			}
			if got := table.At(c); got != want {
				t.Errorf("codes %v: %d is %q, want %q", codes, c, got, want)
			}
		}
	}
}

func ExampleGrid_CropTo() {
	g := Grid{CRS: "EPSG:25831", X0: 500000, Y0: 6000000, DX: 10, DY: 10, Cols: 1000, Rows: 1000}
	part := g.CropTo(500123, 5999900, 500200, 5999987)
	fmt.Println(part.X0, part.Y0, part.Cols, part.Rows)
	// Output: 500120 5.99999e+06 8 9
}
