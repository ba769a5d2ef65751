package nearby

import (
	"likelyground/raster"
)

// What a class is to a kernel.
const (
	No      uint8 = 0 // a known cell of another class
	Yes     uint8 = 1 // a cell of the classes looked for
	Missing uint8 = 2 // not known
)

// Share works out which part of the known cells within a disc is of some
// classes. It is not for two goroutines.
type Share struct {
	yes, missing *counter
	cells        uint32
	whole        []float32 // share by count of members, where all cells are known
}

// mostWhole bounds the discs for which shares are tabled.
const mostWhole = 1 << 16

// NewShare returns a Share for a disc.
func NewShare(d Disc) *Share {
	s := &Share{yes: newCounter(d), missing: newCounter(d), cells: uint32(d.Cells())}
	if s.cells < mostWhole {
		for n := range s.cells + 1 {
			s.whole = append(s.whole, ratio(n, s.cells))
		}
	}
	return s
}

func ratio(part, of uint32) float32 { return float32(float64(part) / float64(of)) }

// Classes sets dst to the share of the member classes in src, whose window is
// dst's grown by the disc's reach; member tells No, Yes and Missing. Missing
// cells count in neither part; where no cell within the disc is known the
// share is missing.
func (s *Share) Classes(dst, src raster.Tile, member *raster.CodeTable[uint8]) {
	s.mark(dst, src, member)
	for row := range dst.Rows {
		out := dst.ValueRow(dst.Row + row)
		yes, any := s.yes.count(row)
		missing, some := s.missing.count(row)
		switch {
		case some:
			s.partly(out, yes, missing)
		case any:
			s.wholly(out, yes)
		default:
			clear(out)
		}
	}
}

// wholly sets a row of shares where every cell is known.
func (s *Share) wholly(out []float32, yes []uint32) {
	yes = yes[:len(out)]
	if s.whole == nil {
		for i, n := range yes {
			out[i] = ratio(n, s.cells)
		}
		return
	}
	for i, n := range yes {
		out[i] = s.whole[n]
	}
}

// partly sets a row of shares where some cells are missing.
func (s *Share) partly(out []float32, yes, missing []uint32) {
	yes, missing = yes[:len(out)], missing[:len(out)]
	for i := range out {
		if known := s.cells - missing[i]; known > 0 {
			out[i] = ratio(yes[i], known)
		} else {
			out[i] = raster.Missing
		}
	}
}

// mark notes which cells of src are members and which are missing.
func (s *Share) mark(dst, src raster.Tile, member *raster.CodeTable[uint8]) {
	s.yes.start(dst.Cols, dst.Rows)
	s.missing.start(dst.Cols, dst.Rows)
	for row := range src.Rows {
		yes, missing := s.yes.row(row)[:src.Cols], s.missing.row(row)[:src.Cols]
		n := classify(yes, src.CodeRow(src.Row+row), member)
		s.yes.inRow[row], s.missing.inRow[row] = n[Yes], n[Missing]
		if n[Missing] == 0 {
			clear(missing)
			continue
		}
		for i, kind := range yes {
			yes[i], missing[i] = kind&Yes, kind>>1
		}
	}
}

// classify sets kinds to what the codes are to a kernel, and returns how many
// are of each kind.
func classify(kinds []uint8, codes []int32, member *raster.CodeTable[uint8]) (n [3]int) {
	codes = codes[:len(kinds)]
	yes, missing := 0, 0
	for i, code := range codes {
		kind := member.At(code)
		kinds[i] = kind
		yes += int(kind & Yes)
		missing += int(kind >> 1)
	}
	n[Yes], n[Missing] = yes, missing
	n[No] = len(kinds) - yes - missing
	return n
}
