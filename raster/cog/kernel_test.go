package cog

import (
	"bytes"
	"encoding/binary"
	"math"
	"testing"

	"likelyground/raster"

	"pgregory.net/rapid"
)

// TestPredictorsByHand: rows worked by hand from TIFF 6.0, section 14, and
// Adobe Photoshop TIFF technical note 3: bytes in planes, most significant
// first, each less the one before it.
func TestPredictorsByHand(t *testing.T) {
	nan := float32(math.NaN())
	for _, c := range []struct {
		got  func(dst []byte)
		want []byte
	}{
		// 1 is 3f800000, 2 is 40000000, NaN 7fc00000: planes 3f 40 7f 7f | 80 00 c0 c0 | 0 | 0.
		{func(dst []byte) { floatRow(dst, []float32{1, 2, nan}, canonicalNaN) },
			[]byte{0x3f, 0x01, 0x3f, 0, 0x01, 0x80, 0xc0, 0, 0x40, 0, 0, 0, 0, 0, 0, 0}},
		{func(dst []byte) { shortRow(dst, []int32{300, -2, raster.MissingCode}, -32768) },
			[]byte{0x2c, 0x01, 0xd2, 0xfe, 0x02, 0x80, 0, 0}},
		{func(dst []byte) { byteRow(dst, []int32{7, 5, raster.MissingCode}, 255) }, []byte{7, 254, 250, 0}},
	} {
		dst := make([]byte, len(c.want))
		c.got(dst)
		if !bytes.Equal(dst, c.want) {
			t.Errorf("got %x, want %x", dst, c.want)
		}
	}
}

// TestFloatRowUndone: undoing the predictor gives the bits back.
func TestFloatRowUndone(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		src := rapid.SliceOfN(rapid.Float32(), 0, 40).Draw(r, "cells")
		n := len(src) + rapid.IntRange(1, 5).Draw(r, "beyond")
		dst := make([]byte, 4*n)
		floatRow(dst, src, canonicalNaN)
		for i := range dst[1:] {
			dst[i+1] += dst[i]
		}
		for i := range n {
			want := uint32(canonicalNaN)
			if i < len(src) && src[i] == src[i] {
				want = math.Float32bits(src[i])
			}
			if got := binary.BigEndian.Uint32([]byte{dst[i], dst[n+i], dst[2*n+i], dst[3*n+i]}); got != want {
				r.Fatalf("cell %d is %x, want %x", i, got, want)
			}
		}
	})
}

// TestSubtractBytes holds the word trick to plain subtraction.
func TestSubtractBytes(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		x, y := rapid.Uint64().Draw(r, "x"), rapid.Uint64().Draw(r, "y")
		got := subtractBytes(x, y)
		for s := 0; s < 64; s += 8 {
			if byte(got>>s) != byte(x>>s)-byte(y>>s) {
				r.Fatalf("%016x - %016x = %016x", x, y, got)
			}
		}
	})
}

// TestOverviewsByHand: one row of squares of two rows, odd column at the end.
func TestOverviewsByHand(t *testing.T) {
	m := raster.MissingCode
	north, south := []int32{1, 2, m, 4, m, m, 7}, []int32{2, 2, 9, -4, m, m, m}
	for o, want := range map[Overview][]int32{
		Average: {2, 3, m, 7}, // 7/4 is 1.75; 9/3; none; 7
		Nearest: {1, m, m, 7},
		Mode:    {2, -4, m, 7},
	} {
		checkHalved(t, o, north, south, want)
	}
	checkHalved(t, Average, []int32{-1, -2}, []int32{m, m}, []int32{-2}) // -1.5, away from zero
	checkHalved(t, Average, []int32{1, 2}, []int32{m, m}, []int32{2})
	checkHalved(t, Average, []int32{-1, m, 3, 4}, nil, []int32{-1, 4})
	checkHalved(t, Mode, []int32{5, 3, 4}, nil, []int32{3, 4})
}

// checkHalved looks at codes and at the same numbers as values; the means of
// values are not rounded.
func checkHalved(t *testing.T, o Overview, north, south, want []int32) {
	t.Helper()
	w := raster.Window{Cols: len(north), Rows: 1}
	if south != nil {
		w.Rows = 2
	}
	up := raster.Window{Cols: len(want), Rows: 1}
	codes := raster.Tile{Window: w, Codes: append(append([]int32{}, north...), south...)}
	dst := raster.NewClassTile(up)
	known := o.halve(dst, codes, w)
	values, dstValues := raster.NewTile(w), raster.NewTile(up)
	for i, c := range codes.Codes {
		values.Values[i] = float32(c)
		if c == raster.MissingCode {
			values.Values[i] = raster.Missing
		}
	}
	knownValues := o.halve(dstValues, values, w)
	for i, c := range want {
		v := dstValues.Values[i]
		if dst.Codes[i] != c || (v == v) != (c != raster.MissingCode) || v == v && math.Abs(float64(v)-float64(c)) > 0.5 {
			t.Errorf("overview %d of %v and %v: %v and %v, want %v", o, north, south, dst.Codes, dstValues.Values, want)
			return
		}
		if c != raster.MissingCode {
			known, knownValues = known-1, knownValues-1
		}
	}
	if known != 0 || knownValues != 0 {
		t.Errorf("overview %d of %v and %v: known cells miscounted by %d and %d", o, north, south, known, knownValues)
	}
}

// TestBigWhenNeeded: a file that would pass 4 GB becomes a BigTIFF by
// itself; one byte less and it stays classic.
func TestBigWhenNeeded(t *testing.T) {
	l := Layout{Grid: gridOf(100, 100), Bands: bandsOf(1), Block: 128}
	w := create(t, l)
	if err := w.Encoder().Put(0, raster.NewTile(l.Grid.Window())); err != nil {
		t.Fatal(err)
	}
	at := &w.planes[0][0].index[0]
	room := int64(math.MaxUint32) - int64(len(w.headAs(false))) - leaderAndTrailer
	for size, magic := range map[int64]byte{room: 42, room + 1: 43} {
		at.size = size
		if b := w.head(); b[2] != magic {
			t.Errorf("a block of %d bytes makes a TIFF of magic %d", size, b[2])
		}
	}
}

// TestSummariesJoin: joining the summaries of parts gives that of the whole
// (expected values by hand: 1 to 6 has mean 3.5 and squared deviations 17.5).
func TestSummariesJoin(t *testing.T) {
	of := func(values ...float32) summary {
		w := raster.Window{Cols: len(values), Rows: 1}
		return surveyValues(raster.Tile{Window: w, Values: values}, w)
	}
	nan := raster.Missing
	s := summary{}.join(of(nan, 1, 2)).join(of(nan)).join(of(6, 5, nan, 4, nan, 3))
	if want := (summary{6, 1, 6, 3.5, 17.5}); s != want {
		t.Errorf("%+v, want %+v", s, want)
	}
	w := raster.Window{Cols: 7, Rows: 1}
	codes := raster.Tile{Window: w, Codes: []int32{1, 2, 3, raster.MissingCode, 4, 5, 6}}
	if got := surveyCodes(codes, w); got != s {
		t.Errorf("of codes %+v, want %+v", got, s)
	}
}
