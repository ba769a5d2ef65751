package cog

import (
	"fmt"
	"math"

	"likelyground/raster"
)

// summary is what the statistics of a band are made of, for some of its
// cells: how many are known, their extremes, mean and sum of squared
// deviations from the mean.
type summary struct {
	known     int64
	low, high float64
	mean, dev float64
}

// join returns the summary of both sets of cells (Chan, Golub and LeVeque
// 1979). Joins must be made in a fixed order to give the same bits.
func (a summary) join(b summary) summary {
	if a.known == 0 {
		return b
	}
	if b.known == 0 {
		return a
	}
	n, na, nb := float64(a.known+b.known), float64(a.known), float64(b.known)
	d := b.mean - a.mean
	return summary{
		known: a.known + b.known,
		low:   min(a.low, b.low),
		high:  max(a.high, b.high),
		mean:  a.mean + float64(d*(nb/n)),
		dev:   a.dev + b.dev + float64(float64(d*d)*float64(na*nb/n)),
	}
}

// deviation is the standard deviation over the known cells.
func (a summary) deviation() float64 { return math.Sqrt(max(a.dev, 0) / float64(a.known)) }

// survey sums up the cells of w, which t holds, and refuses what cannot be
// written.
func (l *Layout) survey(t raster.Tile, w raster.Window) (summary, error) {
	if l.Sample.values() {
		s := surveyValues(t, w)
		return s, l.judgeValues(s, t, w)
	}
	s := surveyCodes(t, w)
	return s, l.judgeCodes(s, t, w)
}

// surveyValues sums the differences from one known value of the window, so
// that little is lost to cancellation, in four lanes by column.
func surveyValues(t raster.Tile, w raster.Window) summary {
	pivot, any := firstKnown(t, w)
	if !any {
		return summary{}
	}
	s := sums{low: pivot, high: pivot, pivot: float64(pivot)}
	for r := range w.Rows {
		at := t.Index(w.Col, w.Row+r)
		s.row(t.Values[at : at+w.Cols])
	}
	return s.summary()
}

func firstKnown(t raster.Tile, w raster.Window) (float32, bool) {
	for r := range w.Rows {
		at := t.Index(w.Col, w.Row+r)
		for _, v := range t.Values[at : at+w.Cols] {
			if v == v {
				return v, true
			}
		}
	}
	return 0, false
}

type sums struct {
	pivot     float64
	low, high float32
	missing   int64
	cells     int64
	sum, sq   [4]float64
}

func (s *sums) row(cells []float32) {
	s.cells += int64(len(cells))
	n := len(cells) &^ 3
	for i := 0; i < n; i += 4 {
		four := cells[i : i+4 : i+4]
		for k := range 4 {
			s.add(four[k], k)
		}
	}
	for i := n; i < len(cells); i++ {
		s.add(cells[i], i&3)
	}
}

func (s *sums) add(v float32, lane int) {
	if v != v {
		s.missing++
		return
	}
	if v < s.low {
		s.low = v
	}
	if v > s.high {
		s.high = v
	}
	d := float64(v) - s.pivot
	s.sum[lane] += d
	s.sq[lane] += float64(d * d)
}

func (s *sums) summary() summary {
	n := s.cells - s.missing
	sum := (s.sum[0] + s.sum[1]) + (s.sum[2] + s.sum[3])
	sq := (s.sq[0] + s.sq[1]) + (s.sq[2] + s.sq[3])
	shift := sum / float64(n)
	return summary{
		known: n,
		low:   float64(s.low),
		high:  float64(s.high),
		mean:  s.pivot + shift,
		dev:   sq - float64(sum*shift),
	}
}

// surveyCodes sums integers, exactly: a 16-bit sample of a block of 16384
// cells a side stays within 2 to the 58th.
func surveyCodes(t raster.Tile, w raster.Window) summary {
	var n, sum, sq int64
	low, high := int32(math.MaxInt32), int32(math.MinInt32)
	for r := range w.Rows {
		at := t.Index(w.Col, w.Row+r)
		for _, c := range t.Codes[at : at+w.Cols] {
			if c == raster.MissingCode {
				continue
			}
			n++
			low, high = min(low, c), max(high, c)
			sum += int64(c)
			sq += int64(c) * int64(c)
		}
	}
	if n == 0 {
		return summary{}
	}
	mean := float64(sum) / float64(n)
	return summary{n, float64(low), float64(high), mean, float64(sq) - float64(float64(sum)*mean)}
}

func (l *Layout) judgeValues(s summary, t raster.Tile, w raster.Window) error {
	if err := l.judgeMissing(s, w); err != nil || s.known == 0 {
		return err
	}
	if math.IsInf(s.low, 0) || math.IsInf(s.high, 0) {
		return fmt.Errorf("infinite value in %s: give a number or NaN", where(w))
	}
	if l.Nodata == nil || !(s.low <= *l.Nodata && *l.Nodata <= s.high) {
		return nil
	}
	for r := range w.Rows {
		at := t.Index(w.Col, w.Row+r)
		for c, v := range t.Values[at : at+w.Cols] {
			if float64(v) == *l.Nodata {
				return clash(*l.Nodata, w.Col+c, w.Row+r)
			}
		}
	}
	return nil
}

func (l *Layout) judgeCodes(s summary, t raster.Tile, w raster.Window) error {
	if err := l.judgeMissing(s, w); err != nil || s.known == 0 {
		return err
	}
	low, high := l.Sample.span()
	if s.low < float64(low) || s.high > float64(high) {
		return fmt.Errorf("codes from %v to %v in %s do not fit the sample, which holds %d to %d", s.low, s.high, where(w), low, high)
	}
	if l.Nodata == nil || !(s.low <= *l.Nodata && *l.Nodata <= s.high) {
		return nil
	}
	for r := range w.Rows {
		at := t.Index(w.Col, w.Row+r)
		for c, v := range t.Codes[at : at+w.Cols] {
			if v == int32(*l.Nodata) {
				return clash(*l.Nodata, w.Col+c, w.Row+r)
			}
		}
	}
	return nil
}

func (l *Layout) judgeMissing(s summary, w raster.Window) error {
	if l.Nodata == nil && l.Sample != Colour && s.known < int64(w.Size()) {
		return fmt.Errorf("missing cells in %s, and no nodata value declared to write them as", where(w))
	}
	return nil
}

func clash(nodata float64, col, row int) error {
	return fmt.Errorf("the known value of cell (%d, %d) is the nodata value %v: declare another", col, row, nodata)
}

func where(w raster.Window) string {
	return fmt.Sprintf("columns %d to %d, rows %d to %d", w.Col, w.EndCol()-1, w.Row, w.EndRow()-1)
}
