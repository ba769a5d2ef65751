package water

// aside tells what was put aside of a tile.
type aside struct{ waits, late int }

// asideBytes is what a cell put aside takes at the most.
const asideBytes = 8 + 4 + 4 + 3

// putAside keeps the cells of t, which holds the given tile, that still wait,
// and those that have given since the tile was first put aside. The first time
// it keeps the amounts of those that have given.
func (k *worker) putAside(t *spreadTile, tile int) (aside, error) {
	if !t.again {
		if err := k.putFirst(t, tile); err != nil {
			return aside{}, err
		}
	}
	waits := t.places[:0]
	for _, at := range t.places {
		if t.waiting[at] != given {
			waits = append(waits, at)
		}
	}
	t.places = waits
	b := append(k.bytes[:0], bytesOf(t.late)...)
	k.row, k.keys = k.row[:0], k.keys[:0]
	for _, at := range waits {
		k.row, k.keys = append(k.row, t.amount[at]), append(k.keys, t.key[at])
	}
	b = append(append(append(b, bytesOf(k.row)...), bytesOf(waits)...), bytesOf(k.keys)...)
	for _, at := range waits {
		b = append(b, t.way[at], t.mask[at], t.waiting[at])
	}
	k.bytes = b
	return aside{len(waits), len(t.late)}, k.w.store.Write(asideLayer, tile, b)
}

// putFirst keeps the amounts of the cells that have given as words, those that
// are large among the late ones, and lists the cells that wait.
func (k *worker) putFirst(t *spreadTile, tile int) error {
	w := t.p.w - 2
	t.places, t.late = t.places[:0], t.late[:0]
	k.words = sized(k.words, w*(t.p.h-2))
	for y := range t.p.h - 2 {
		at := t.p.at(0, y)
		words, waiting := k.words[y*w:][:w], t.waiting[at:][:w]
		for x, a := range t.amount[at:][:w] {
			words[x] = wordOf(a)
			if waiting[x] != given {
				t.places = append(t.places, int32(at+x))
			} else if a&^cutMark >= wordLarge {
				t.late = append(t.late, placed{a, uint64(at + x)})
			}
		}
	}
	return k.w.store.Write(manyLayer, tile, bytesOf(k.words))
}

// getAside is the inverse of putAside.
func (k *worker) getAside(t *spreadTile, a aside) error {
	l, n := k.w.lattice, t.p.len()
	t.again, t.left = true, a.waits
	t.key, t.way, t.mask, t.amount, t.waiting = sized(t.key, n), sized(t.way, n), sized(t.mask, n), sized(t.amount, n), sized(t.waiting, n)
	t.ring = l.ring(t.ring[:0], t.tile)
	for _, c := range t.ring {
		t.key[c.pad] = missingKey
		if c.cell >= 0 {
			t.key[c.pad] = k.w.filledEdge[c.cell]
		}
	}
	t.places, t.late = sized(t.places, a.waits), sized(t.late, a.late)
	k.row, k.keys, k.bytes = sized(k.row, a.waits), sized(k.keys, a.waits), sized(k.bytes, 3*a.waits)
	offset := 0
	for _, part := range [][]byte{bytesOf(t.late), bytesOf(k.row), bytesOf(t.places), bytesOf(k.keys), k.bytes} {
		if err := k.w.store.Read(asideLayer, t.tile, offset, part); err != nil {
			return err
		}
		offset += len(part)
	}
	for i, at := range t.places {
		t.amount[at], t.key[at] = k.row[i], k.keys[i]
		t.way[at], t.mask[at], t.waiting[at] = k.bytes[3*i], k.bytes[3*i+1], k.bytes[3*i+2]
	}
	return nil
}

// putDone keeps the amounts of a tile of which all cells have given.
func (k *worker) putDone(t *spreadTile) error {
	w, n := t.p.w-2, (t.p.w-2)*(t.p.h-2)
	k.words, k.large = sized(k.words, n), k.large[:0]
	if !t.again {
		for y := range t.p.h - 2 {
			words := k.words[y*w:][:w]
			for x, a := range t.amount[t.p.at(0, y):][:w] {
				words[x] = wordOf(a)
				if a&^cutMark >= wordLarge {
					k.large = append(k.large, placed{a, uint64(y*w + x)})
				}
			}
		}
		return k.putAmounts(manyLayer, t.tile, k.words, k.large)
	}
	if err := k.w.store.Read(manyLayer, t.tile, 0, bytesOf(k.words)); err != nil {
		return err
	}
	for _, a := range t.late {
		i := (int(a.place)/t.p.w-1)*w + int(a.place)%t.p.w - 1
		k.words[i] = wordOf(a.amount)
		if a.amount&^cutMark >= wordLarge {
			k.large = append(k.large, placed{a.amount, uint64(i)})
		}
	}
	return k.putAmounts(manyLayer, t.tile, k.words, k.large)
}
