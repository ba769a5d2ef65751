package geojson

import (
	"cmp"
	"slices"
)

// bounds gathers what a bbox is made of.
type bounds struct {
	lons         []interval // of every part
	south, north int64
}

type interval struct{ west, east int64 }

// add takes in a ring, which does not cross the antimeridian.
func (b *bounds) add(l line) {
	i := interval{l[0].lon, l[0].lon}
	if len(b.lons) == 0 {
		b.south, b.north = l[0].lat, l[0].lat
	}
	for _, p := range l {
		i.west, i.east = min(i.west, p.lon), max(i.east, p.lon)
		b.south, b.north = min(b.south, p.lat), max(b.north, p.lat)
	}
	b.lons = append(b.lons, i)
}

// box returns west, south, east, north: the smallest box on the globe. Its
// west is greater than its east where it spans the antimeridian.
func (b *bounds) box() (box [4]int64, ok bool) {
	if len(b.lons) == 0 {
		return box, false
	}
	b.merge()
	last := len(b.lons) - 1
	west, east := b.lons[0].west, b.lons[last].east
	widest := west + whole - east // what the box leaves out
	for i := range last {
		if gap := b.lons[i+1].west - b.lons[i].east; gap > widest {
			widest, west, east = gap, b.lons[i+1].west, b.lons[i].east
		}
	}
	return [4]int64{west, b.south, east, b.north}, true
}

// merge puts the intervals in order and unites those that meet.
func (b *bounds) merge() {
	slices.SortFunc(b.lons, func(i, j interval) int { return cmp.Compare(i.west, j.west) })
	out := b.lons[:1]
	for _, i := range b.lons[1:] {
		if last := &out[len(out)-1]; i.west <= last.east {
			last.east = max(last.east, i.east)
		} else {
			out = append(out, i)
		}
	}
	b.lons = out
}
