package nearby

import "likelyground/raster"

// What a class is to a kernel.
const (
	No      uint8 = 0 // a known cell of another class
	Yes     uint8 = 1 // a cell of the classes looked for
	Missing uint8 = 2 // not known
)

// Share works out which part of the known cells within a disc is of some
// classes. It is not for two goroutines.
type Share struct {
	yes, known *counter
	odds       []float32 // share by count, where all cells are known
}

// NewShare returns a Share for a disc.
func NewShare(d Disc) *Share {
	s := &Share{yes: newCounter(d), known: newCounter(d)}
	if !s.yes.wide {
		n := s.yes.disc.cells
		for i := range n + 1 {
			s.odds = append(s.odds, float32(float64(i)/float64(n)))
		}
	}
	return s
}

// Classes sets dst to the share of the member classes in src, whose window is
// dst's grown by the disc's reach. Missing cells count in neither part; where
// no cell within the disc is known the share is missing.
func (s *Share) Classes(dst, src raster.Tile, member *raster.CodeTable[uint8]) {
	marked, holes := s.mark(dst, src, member)
	if marked == 0 && !holes {
		clear(dst.Values)
		return
	}
	s.yes.first()
	if holes {
		s.known.first()
	}
	for row := range dst.Rows {
		if row > 0 {
			s.yes.next(row)
			if holes {
				s.known.next(row)
			}
		}
		out := dst.ValueRow(dst.Row + row)
		if holes {
			s.partly(out)
		} else {
			s.wholly(out)
		}
	}
}

// wholly sets a row of shares where every cell is known.
func (s *Share) wholly(out []float32) {
	if s.odds == nil {
		for i := range out {
			out[i] = float32(float64(s.yes.at(i)) / float64(s.yes.disc.cells))
		}
		return
	}
	odds := s.odds
	for i := range out {
		out[i] = odds[uint16(s.yes.sums[i>>2]>>(16*(i&3)))]
	}
}

// partly sets a row of shares where some cells are missing.
func (s *Share) partly(out []float32) {
	for i := range out {
		known := s.known.at(i)
		if known == 0 {
			out[i] = raster.Missing
			continue
		}
		out[i] = float32(float64(s.yes.at(i)) / float64(known))
	}
}

// mark notes which cells of src are members and which are known; it returns
// the number of members and whether any cell is missing.
func (s *Share) mark(dst, src raster.Tile, member *raster.CodeTable[uint8]) (marked int, holes bool) {
	s.yes.start(dst.Cols, dst.Rows)
	s.known.start(dst.Cols, dst.Rows)
	for row := range src.Rows {
		yes, known := s.yes.row(row), s.known.row(row)
		for i, code := range src.CodeRow(src.Row + row) {
			kind := member.At(code)
			yes[2*i] = kind & Yes
			known[2*i] = 1 - kind>>1
			marked += int(kind & Yes)
			holes = holes || kind == Missing
		}
	}
	return marked, holes
}

// Dilate finds the cells that have a marked cell within a disc. It is not for
// two goroutines.
type Dilate struct{ marks *counter }

// NewDilate returns a Dilate for a disc.
func NewDilate(d Disc) *Dilate { return &Dilate{newCounter(d)} }

// Classes sets the codes of dst to 1 where a cell of src within the disc has
// code 1, else to 0. The window of src is dst's grown by the disc's reach.
func (d *Dilate) Classes(dst, src raster.Tile) {
	ones := 0
	for _, c := range src.Codes {
		if c == 1 {
			ones++
		}
	}
	if ones == 0 || ones == len(src.Codes) {
		for i := range dst.Codes {
			dst.Codes[i] = int32(min(ones, 1))
		}
		return
	}
	d.marks.start(dst.Cols, dst.Rows)
	for row := range src.Rows {
		marks := d.marks.row(row)
		for i, c := range src.CodeRow(src.Row + row) {
			if c == 1 {
				marks[2*i] = 1
			}
		}
	}
	d.marks.first()
	for row := range dst.Rows {
		if row > 0 {
			d.marks.next(row)
		}
		out := dst.CodeRow(dst.Row + row)
		for i := range out {
			out[i] = int32(min(d.marks.at(i), 1))
		}
	}
}
