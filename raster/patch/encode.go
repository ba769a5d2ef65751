package patch

import (
	"encoding/binary"
	"errors"
)

// A summary lies in the scratch file as two pieces of variable-length
// integers: the head (components, factor sums, the four sides), which Solve
// reads, and the body (the runs), which Trace reads.

// appendHead encodes the components and the sides of a summary.
func (s *Summary) appendHead(b []byte) []byte {
	b = binary.AppendUvarint(b, uint64(len(s.parts)))
	for i := range s.parts {
		b = s.parts[i].append(b)
	}
	for _, f := range s.sums {
		b = binary.AppendUvarint(b, uint64(f.Sum))
		b = binary.AppendUvarint(b, uint64(f.Known))
	}
	for _, side := range s.sides {
		b = appendSide(b, side)
	}
	return b
}

func (p *part) append(b []byte) []byte {
	for _, v := range [...]int64{p.cells, p.area, p.sum} {
		b = binary.AppendUvarint(b, uint64(v))
	}
	for _, v := range [...]int32{p.max, p.west, p.north, p.east - p.west, p.south - p.north, p.first - p.west} {
		b = binary.AppendVarint(b, int64(v))
	}
	return b
}

func appendSide(b []byte, side []border) []byte {
	b = binary.AppendUvarint(b, uint64(len(side)))
	at, label := int32(0), int32(0)
	for _, s := range side {
		b = binary.AppendVarint(b, int64(s.from-at))
		b = binary.AppendUvarint(b, uint64(s.to-s.from))
		b = binary.AppendVarint(b, int64(s.label-label))
		at, label = s.to, s.label
	}
	return b
}

// appendBody encodes the runs: for each row that has any, the step from the
// row before, the number of runs, and each run as a side is encoded.
func (s *Summary) appendBody(b []byte) []byte {
	row, label := int32(s.Window.Row), int32(0)
	for i := 0; i < len(s.runs); {
		end := i + 1
		for end < len(s.runs) && s.runs[end].row == s.runs[i].row {
			end++
		}
		b = binary.AppendUvarint(b, uint64(s.runs[i].row-row))
		b = binary.AppendUvarint(b, uint64(end-i))
		row = s.runs[i].row
		at := int32(s.Window.Col)
		for ; i < end; i++ {
			r := s.runs[i]
			b = binary.AppendUvarint(b, uint64(r.from-at))
			b = binary.AppendUvarint(b, uint64(r.to-r.from))
			b = binary.AppendVarint(b, int64(r.label-label))
			at, label = r.to, r.label
		}
	}
	return b
}

var errDamaged = errors.New("the scratch file does not hold what was written to it")

// decoder reads what the append functions wrote. After the first mistake it
// gives zeros, and bad is set.
type decoder struct {
	b   []byte
	bad bool
}

func (d *decoder) uint() uint64 {
	v, n := binary.Uvarint(d.b)
	if n <= 0 {
		d.bad = true
		d.b = nil
		return 0
	}
	d.b = d.b[n:]
	return v
}

func (d *decoder) int() int32 {
	v, n := binary.Varint(d.b)
	if n <= 0 {
		d.bad = true
		d.b = nil
		return 0
	}
	d.b = d.b[n:]
	return int32(v)
}

// count reads a number of things that take at least one byte each.
func (d *decoder) count() int {
	n := d.uint()
	if n > uint64(len(d.b)) {
		d.bad = true
		return 0
	}
	return int(n)
}

// head is the decoded first piece of a summary.
type head struct {
	parts []part
	sums  []FactorSum
	sides [4][]border
}

// decode fills h in its own memory; part and side labels are shifted by base.
func (h *head) decode(b []byte, factors int, base int32) error {
	d := decoder{b: b}
	n := d.count()
	h.parts = cleared(h.parts, n)
	for i := range h.parts {
		d.part(&h.parts[i])
	}
	h.sums = cleared(h.sums, n*factors)
	for i := range h.sums {
		h.sums[i] = FactorSum{int64(d.uint()), int64(d.uint())}
	}
	for i := range h.sides {
		h.sides[i] = d.side(h.sides[i][:0], base)
	}
	if d.bad || len(d.b) > 0 {
		return errDamaged
	}
	return nil
}

func (d *decoder) part(p *part) {
	p.cells, p.area, p.sum = int64(d.uint()), int64(d.uint()), int64(d.uint())
	p.max, p.west, p.north = d.int(), d.int(), d.int()
	p.east = p.west + d.int()
	p.south = p.north + d.int()
	p.first = p.west + d.int()
}

func (d *decoder) side(out []border, base int32) []border {
	at, label := int32(0), base
	for n := d.count(); n > 0; n-- {
		from := at + d.int()
		at = from + int32(d.uint())
		label += d.int()
		out = append(out, border{from, at, label})
	}
	return out
}

// body appends the runs of the wanted components, labelled as in the tile.
func (d *decoder) body(out []run, row, col int32, wanted []bool) ([]run, error) {
	label := int32(0)
	for len(d.b) > 0 {
		row += int32(d.uint())
		at := col
		for n := d.count(); n > 0; n-- {
			from := at + int32(d.uint())
			at = from + int32(d.uint())
			label += d.int()
			if label < 0 || int(label) >= len(wanted) {
				return out, errDamaged
			}
			if wanted[label] {
				out = append(out, run{row, from, at, label})
			}
		}
	}
	if d.bad {
		return out, errDamaged
	}
	return out, nil
}
