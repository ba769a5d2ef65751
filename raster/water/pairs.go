package water

import (
	"math/bits"
	"slices"
)

// pairs is a table of the least level of each pair of watersheds, by open
// addressing.
type pairs struct {
	slots []int32 // number of the pair, from 1
	list  []link
	shift int
}

// reset empties the table and keeps its memory.
func (p *pairs) reset() {
	if p.slots == nil {
		p.slots = make([]int32, 1<<10)
	}
	clear(p.slots)
	p.list = p.list[:0]
	p.shift = 64 - bits.TrailingZeros(uint(len(p.slots)))
}

// place returns the slot where a pair stands or would stand.
func (p *pairs) place(a, b int32) int {
	packed := uint64(uint32(a))<<32 | uint64(uint32(b))
	at := int(packed * 0x9E3779B97F4A7C15 >> p.shift) // 2^64 over the golden ratio
	for {
		n := p.slots[at]
		if n == 0 {
			return at
		}
		if l := &p.list[n-1]; l.a == a && l.b == b {
			return at
		}
		at = (at + 1) & (len(p.slots) - 1)
	}
}

// add notes a link between two different watersheds.
func (p *pairs) add(a, b int32, level uint32) {
	if a > b {
		a, b = b, a
	}
	if a == b {
		return
	}
	at := p.place(a, b)
	if n := p.slots[at]; n != 0 {
		if l := &p.list[n-1]; level < l.level {
			l.level = level
		}
		return
	}
	p.list = append(p.list, link{a, b, level})
	p.slots[at] = int32(len(p.list))
	if 2*len(p.list) > len(p.slots) {
		p.grow()
	}
}

func (p *pairs) grow() {
	p.slots = make([]int32, 4*len(p.slots))
	p.shift -= 2
	for i, l := range p.list {
		p.slots[p.place(l.a, l.b)] = int32(i + 1)
	}
}

// sorted appends the links by level, each packed for link. The order among
// equal levels changes no result.
func (p *pairs) sorted(out []uint64) []uint64 {
	for i, l := range p.list {
		out = append(out, uint64(l.level)<<32|uint64(i))
	}
	slices.Sort(out)
	return out
}

func (p *pairs) link(packed uint64) link { return p.list[uint32(packed)] }
