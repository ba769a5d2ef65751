package gpkg

import (
	"encoding/binary"
	"math"
)

// Codes of well-known binary (OGC 06-103r4, table 7).
const (
	wkbPoint        = 1
	wkbPolygon      = 3
	wkbMultiPolygon = 6
)

// wkb appends the feature's geometry as little-endian well-known binary.
func (f Feature) wkb(to []byte, multi bool) []byte {
	if f.Point != nil {
		return putPoint(putHead(to, wkbPoint), *f.Point)
	}
	if multi {
		to = putCount(putHead(to, wkbMultiPolygon), len(f.Polygons))
	}
	for _, rings := range f.Polygons {
		to = putCount(putHead(to, wkbPolygon), len(rings))
		for _, r := range rings {
			to = putRing(to, r)
		}
	}
	return to
}

func putHead(to []byte, code uint32) []byte {
	return binary.LittleEndian.AppendUint32(append(to, 1), code)
}

func putCount(to []byte, n int) []byte {
	return binary.LittleEndian.AppendUint32(to, uint32(n))
}

func putRing(to []byte, r Ring) []byte {
	open := r[0] != r[len(r)-1]
	n := len(r)
	if open {
		n++
	}
	to = putCount(to, n)
	for _, p := range r {
		to = putPoint(to, p)
	}
	if open {
		to = putPoint(to, r[0])
	}
	return to
}

func putPoint(to []byte, p Point) []byte {
	for _, v := range p {
		to = binary.LittleEndian.AppendUint64(to, math.Float64bits(v))
	}
	return to
}
