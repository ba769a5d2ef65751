package water

import (
	"cmp"
	"slices"
)

// amount is how much ground drains through a cell, itself included, in units
// of the computation, with cutMark where some of that ground lies beside the
// rim or a hole, so that more may drain there than is known.
type amount = uint64

const cutMark amount = 1 << 63

// plus adds amounts; the sum is cut where a part is.
func plus(a, b amount) amount { return (a&^cutMark + b&^cutMark) | (a|b)&cutMark }

// own returns what a cell has without any neighbour.
func own(v way, unit amount) amount {
	if v&wayNone != 0 {
		return 0
	}
	if v&wayCut != 0 {
		return unit | cutMark
	}
	return unit
}

// Amounts lie in scratch as words of four bytes, the top bit for the mark.
// The few that do not fit have the word wordLarge and stand behind the words,
// in the order of their places. A tile where they are many has eight bytes a
// cell instead.
const (
	wordCut   = 1 << 31
	wordLarge = wordCut - 1

	plainAmounts = -1 // instead of a number of large amounts
	amountBytes  = 8  // a cell, at the most
)

// placed is an amount with the place of its cell.
type placed struct {
	amount amount
	place  uint64 // among the cells of the tile
}

func wordOf(a amount) uint32 { return uint32(min(a&^cutMark, wordLarge)) | uint32(a>>63)<<31 }

func amountOf(word uint32) amount { return amount(word&^wordCut) | amount(word&wordCut)<<32 }

// makeAmounts begins a layer of amounts.
func (w *Water) makeAmounts(layer string) error {
	w.large[layer] = make([]int32, w.lattice.tiles())
	return w.makeLayer(layer, amountBytes)
}

// putAmounts keeps the amounts of a tile: words, and those of them that are
// large.
func (k *worker) putAmounts(layer string, t int, words []uint32, large []placed) error {
	slices.SortFunc(large, func(a, b placed) int { return cmp.Compare(a.place, b.place) })
	k.w.large[layer][t] = int32(len(large))
	if len(large) == 0 {
		return k.w.store.Write(layer, t, bytesOf(words))
	}
	if bytes := bytesOf(large); len(bytes) <= (amountBytes-4)*len(words) {
		k.bytes = append(append(k.bytes[:0], bytesOf(words)...), bytes...)
		return k.w.store.Write(layer, t, k.bytes)
	}
	k.w.large[layer][t] = plainAmounts
	k.row = sized(k.row, len(words))
	for i, word := range words {
		k.row[i] = amountOf(word)
	}
	for _, a := range large {
		k.row[a.place] = a.amount
	}
	return k.w.store.Write(layer, t, bytesOf(k.row))
}

// getAmounts is the inverse of putAmounts; it sets k.row.
func (k *worker) getAmounts(layer string, t int) error {
	n := k.w.lattice.window(t).Size()
	k.row = sized(k.row, n)
	large := k.w.large[layer][t]
	if large == plainAmounts {
		return k.w.store.Read(layer, t, 0, bytesOf(k.row))
	}
	k.words, k.large = sized(k.words, n), sized(k.large, int(large))
	if err := k.w.store.Read(layer, t, 0, bytesOf(k.words)); err != nil {
		return err
	}
	for i, word := range k.words {
		k.row[i] = amountOf(word)
	}
	if large == 0 {
		return nil
	}
	err := k.w.store.Read(layer, t, 4*n, bytesOf(k.large))
	for _, a := range k.large {
		k.row[a.place] = a.amount
	}
	return err
}

// amounts calls f for each row of a window's cells in a tile, 0 where they are
// missing; at is the place in the window's row-major data where they belong.
func (v *View) amounts(layer string, w window, f func(at int, row []amount)) error {
	large, ok := v.w.large[layer]
	if !ok {
		return notDone(layer)
	}
	return v.tiles(w, func(t int, in window) error {
		tile := v.w.lattice.window(t)
		if large[t] == plainAmounts {
			return v.tileRows(layer, 8, t, in, func(row window, bytes []byte) {
				v.row = sized(v.row, row.Cols)
				copy(bytesOf(v.row), bytes)
				f(w.Index(row.Col, row.Row), v.row)
			})
		}
		v.large = sized(v.large, int(large[t]))
		if large[t] > 0 {
			if err := v.w.store.Read(layer, t, 4*tile.Size(), bytesOf(v.large)); err != nil {
				return err
			}
		}
		return v.tileRows(layer, 4, t, in, func(row window, bytes []byte) {
			v.readWords(bytes, uint64(tile.Index(row.Col, row.Row)))
			f(w.Index(row.Col, row.Row), v.row)
		})
	})
}

// readWords sets v.row to the amounts of words, the first of which has a place
// in its tile.
func (v *View) readWords(bytes []byte, place uint64) {
	v.words = sized(v.words, len(bytes)/4)
	v.row = sized(v.row, len(v.words))
	copy(bytesOf(v.words), bytes)
	row := v.row[:len(v.words)]
	for i, word := range v.words {
		row[i] = amountOf(word)
		if word&^wordCut == wordLarge {
			at, _ := slices.BinarySearchFunc(v.large, place+uint64(i), func(a placed, place uint64) int { return cmp.Compare(a.place, place) })
			row[i] = v.large[at].amount
		}
	}
}
