package hotspot

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"likelyground/raster"
	"likelyground/raster/patch"
)

// Ground is what lies on the cells of one hotspot, beyond what its patch
// tells: how it scores where every factor is known, what the layers hold,
// and where in it to go first.
type Ground struct {
	Cells      int64
	KnownCells int64 // where every factor that counts is known
	Layers     []Held
	Best       *Hectare // nil where nothing is known throughout, or the box is too large; see MostCells

	knownSum int64
}

// MeanKnown is the mean score over the cells where every factor that counts
// is known, NaN where there is none.
func (g *Ground) MeanKnown() float64 {
	if g.KnownCells == 0 {
		return math.NaN()
	}
	return float64(g.knownSum) / patch.ScoreUnit / float64(g.KnownCells)
}

// MostCells bounds the cells of the boxes around hotspots, in the order of
// rank, of which the scores are held to look for the best known hectare: two
// bytes each.
const MostCells = 1 << 23

// Looking surveys the ground of hotspots, tile by tile in any order.
type Looking struct {
	members  *patch.Members
	boxes    []raster.Window
	counted  []int // which factors count for what is known
	layers   int
	fields   []field
	into     sync.Mutex
	gathered []Ground
}

// Look prepares the survey of hotspots that Rank gave, of the same solution.
// counted lists the factors, by place, that must be known for a cell to be
// known throughout; layers says how many layers are given to Take.
func Look(s *patch.Solution, list []Hotspot, counted []int, layers int) *Looking {
	l := &Looking{counted: counted, layers: layers, fields: make([]field, len(list)), gathered: make([]Ground, len(list))}
	var patches []*patch.Patch
	held := 0
	for i := range list {
		patches = append(patches, list[i].patch)
		l.boxes = append(l.boxes, list[i].Box)
		l.gathered[i].Layers = make([]Held, layers)
		if held+list[i].Box.Size() <= MostCells {
			held += list[i].Box.Size()
			l.fields[i] = newField(list[i].Box)
		}
	}
	l.members = s.Members(patches)
	return l
}

// Wanted reports whether a tile may hold cells of a hotspot.
func (l *Looking) Wanted(w raster.Window) bool {
	inBox := func(box raster.Window) bool { return !box.Clip(w).Empty() }
	return slices.ContainsFunc(l.boxes, inBox) && l.members.Touch(w)
}

// Looker surveys for one worker.
type Looker struct {
	*Looking
	reader *patch.MemberReader
	ground []*Ground // of each hotspot that was met
	known  []bool
}

// Looker returns a surveyor for one worker.
func (l *Looking) Looker() *Looker {
	return &Looker{Looking: l, reader: l.members.Reader(), ground: make([]*Ground, len(l.gathered))}
}

// Take surveys a tile: its scores, the factors in the plan's order, and the
// layers, quantities or classes.
func (l *Looker) Take(score raster.Tile, factors, layers []raster.Tile) error {
	if len(layers) != l.layers {
		return fmt.Errorf("hotspots: %d layers are given, %d were announced", len(layers), l.layers)
	}
	list, err := l.reader.In(score.Window)
	if err != nil {
		return err
	}
	for _, s := range list {
		l.stretch(s, score, factors, layers)
	}
	return nil
}

// stretch surveys the cells of one row that belong to one hotspot.
func (l *Looker) stretch(s patch.Stretch, score raster.Tile, factors, layers []raster.Tile) {
	g := l.ground[s.Patch]
	if g == nil {
		g = &Ground{Layers: make([]Held, l.layers)}
		l.ground[s.Patch] = g
	}
	at := score.Index(s.From, s.Row)
	end := at + s.To - s.From
	l.knownIn(factors, at, end)
	g.Cells += int64(end - at)
	f := &l.fields[s.Patch]
	for i, v := range score.Values[at:end] {
		units := int64(v*patch.ScoreUnit + 0.5)
		if l.known[i] {
			g.KnownCells++
			g.knownSum += units
		}
		f.set(s.From+i, s.Row, units, l.known[i])
	}
	for i := range layers {
		if layers[i].Codes != nil {
			g.Layers[i].addCodes(layers[i].Codes[at:end])
		} else {
			g.Layers[i].addValues(layers[i].Values[at:end])
		}
	}
}

// knownIn finds the cells of a stretch where every factor that counts is known.
func (l *Looker) knownIn(factors []raster.Tile, at, end int) {
	l.known = l.known[:0]
	for range end - at {
		l.known = append(l.known, true)
	}
	for _, k := range l.counted {
		for i, v := range factors[k].Values[at:end] {
			l.known[i] = l.known[i] && v == v
		}
	}
}

// Close adds what the worker found to the rest.
func (l *Looker) Close() {
	l.into.Lock()
	defer l.into.Unlock()
	for i, g := range l.ground {
		if g == nil {
			continue
		}
		to := &l.gathered[i]
		to.Cells += g.Cells
		to.KnownCells += g.KnownCells
		to.knownSum += g.knownSum
		for k := range g.Layers {
			to.Layers[k].join(&g.Layers[k])
		}
	}
	clear(l.ground)
}

// Ground returns what was found on a hotspot, by its place in the list, once
// all workers are closed. A hectare is a square of cols × rows cells.
func (l *Looking) Ground(i int, h *Hotspot, cols, rows int) *Ground {
	g := &l.gathered[i]
	g.Best = l.fields[i].best(cols, rows, h.Point)
	return g
}
