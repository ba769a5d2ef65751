package water

import (
	"context"
	"fmt"
	"math"

	"likelyground/raster"
)

// Channel says what counts as a channel: cells through which at least so
// much ground drains.
type Channel struct {
	Least float64 // area, in the square of the unit of heights
	Many  bool    // as [Water.GatherMany] has it; else as [Water.GatherOne]
}

func (c Channel) layer(what string) string {
	return fmt.Sprintf("channel %s %v %v", what, c.Least, c.Many)
}

func (c Channel) amounts() (layer string, one amount) {
	if c.Many {
		return manyLayer, unit
	}
	return oneLayer, 1
}

// Channels works out, for each cell, how far its water has to go until it
// comes to a channel, along the ways of [Water.Drain], and how high the cell
// lies above that place (Rennó et al. 2008). Cells whose water leaves the
// ground without coming to a channel are missing in both.
func (w *Water) Channels(ctx context.Context, c Channel) error {
	gather := w.GatherOne
	if c.Many {
		gather = w.GatherMany
	}
	if err := gather(ctx); err != nil {
		return err
	}
	return w.once(c.layer("distance"), func() error {
		for _, what := range []string{"distance", "height"} {
			if err := w.makeLayer(c.layer(what), 4); err != nil {
				return err
			}
		}
		s := w.newDescent(c)
		if err := w.each(ctx, "Looking for channels", func(k *worker, t int) error { return k.surveyChannels(t, s) }); err != nil {
			return err
		}
		s.solve(w.lattice, w.wayEdge)
		return w.each(ctx, "Measuring to channels", func(k *worker, t int) error { return k.finishChannels(t, s) })
	})
}

// reached is where the water of a cell comes to a channel.
type reached struct {
	way    uint64  // length of the way there, or to the exit, in units of 1/wayUnit
	height float32 // of the channel there, filled
	exit   int32   // edge cell where the way leaves the tile, or one of these
}

const (
	atChannel int32 = -1
	nowhere   int32 = -2
	notKnown  int32 = -3

	wayUnit = 1 << 32 // ways are added as whole numbers, so that tiles cannot show
)

// descent is what is known of the edge cells of all tiles.
type descent struct {
	channel Channel
	least   amount
	length  [8]uint64 // of a step, in units of 1/wayUnit
	edge    []reached
}

func (w *Water) newDescent(c Channel) *descent {
	s := &descent{channel: c, edge: make([]reached, w.lattice.edges())}
	_, one := c.amounts()
	s.least = amount(math.Ceil(c.Least / w.cellArea() * float64(one)))
	for k, inverse := range perStep(w.ground.DX, w.ground.DY) {
		s.length[k] = uint64(math.Round(wayUnit / inverse))
	}
	return s
}

// tracer follows ways to channels for one worker.
type tracer struct {
	at      []reached // padded
	channel []bool    // padded
	stack   []int32
	out     []float32
}

// loadChannels reads what the ways of a tile come by.
func (k *worker) loadChannels(t int, s *descent) (padded, error) {
	p, err := k.loadFilled(t)
	if err == nil {
		_, err = k.loadWays(t)
	}
	if err != nil {
		return p, err
	}
	c := &k.tracer
	w, h := p.w-2, p.h-2
	layer, _ := s.channel.amounts()
	if err := k.getAmounts(layer, t); err != nil {
		return p, err
	}
	c.at, c.channel = sized(c.at, p.len()), sized(c.channel, p.len())
	for i := range c.at {
		c.at[i].exit = notKnown
	}
	for y := range h {
		for x, a := range k.row[y*w:][:w] {
			c.channel[p.at(x, y)] = a != 0 && a&^cutMark >= s.least
		}
	}
	return p, nil
}

// trace finds where the way from a cell comes to, if it is not known yet.
func (c *tracer) trace(k *worker, p padded, s *descent, steps *[8]int, i int) reached {
	ways, z := k.gatherer.way, k.drainer.key
	c.stack = c.stack[:0]
	for c.at[i].exit == notKnown {
		v := ways[i]
		to := i + steps[v&wayTo]
		switch {
		case c.channel[i] && v&wayNone == 0:
			c.at[i] = reached{height: heightOf(z[i]), exit: atChannel}
		case v&wayOut != 0:
			c.at[i] = reached{exit: nowhere}
		case ways[to] == wayRing && c.at[to].exit == notKnown:
			c.at[i] = reached{exit: int32(edge{p.w - 2, p.h - 2}.at(i%p.w-1, i/p.w-1))}
		default:
			c.stack = append(c.stack, int32(i))
			i = to
		}
	}
	r := c.at[i]
	for n := len(c.stack) - 1; n >= 0; n-- {
		j := c.stack[n]
		r.way += s.length[ways[j]&wayTo]
		c.at[j] = r
	}
	return r
}

func (k *worker) surveyChannels(t int, s *descent) error {
	p, err := k.loadChannels(t, s)
	if err != nil {
		return err
	}
	steps := p.steps()
	e, first := edge{p.w - 2, p.h - 2}, k.w.lattice.first[t]
	for i := range e.len() {
		s.edge[first+i] = k.tracer.trace(k, p, s, &steps, p.at(e.cell(i)))
	}
	return nil
}

// solve follows the edge cells whose way leaves their tile to the end.
func (s *descent) solve(l *lattice, ways []way) {
	var stack []int
	for t := range l.tiles() {
		for i := l.first[t]; i < l.first[t+1]; i++ {
			stack = append(stack[:0], i)
			for tile := t; s.edge[stack[len(stack)-1]].exit >= 0; {
				exit := l.first[tile] + int(s.edge[stack[len(stack)-1]].exit)
				w, v := l.window(tile), ways[exit]
				x, y := edgeOf(w).cell(exit - l.first[tile])
				n := neighbours[v&wayTo]
				var next int
				next, tile = l.number(w.Col+x+n.x, w.Row+y+n.y)
				s.edge[stack[len(stack)-1]].way += s.length[v&wayTo]
				stack = append(stack, next)
			}
			end := s.edge[stack[len(stack)-1]]
			for n := len(stack) - 2; n >= 0; n-- {
				end.way += s.edge[stack[n]].way
				s.edge[stack[n]] = end
			}
		}
	}
}

func (k *worker) finishChannels(t int, s *descent) error {
	p, err := k.loadChannels(t, s)
	if err != nil {
		return err
	}
	c, steps := &k.tracer, p.steps()
	for _, r := range k.ring {
		c.at[r.pad] = reached{exit: nowhere}
		if r.cell >= 0 {
			c.at[r.pad] = s.edge[r.cell]
		}
	}
	n := (p.w - 2) * (p.h - 2)
	c.out = sized(c.out, n)
	k.heights = sized(k.heights, n)
	n = 0
	for y := range p.h - 2 {
		for i := p.at(0, y); i < p.at(p.w-2, y); i++ {
			c.out[n], k.heights[n] = raster.Missing, raster.Missing
			if r := c.trace(k, p, s, &steps, i); r.exit == atChannel {
				c.out[n], k.heights[n] = float32(float64(r.way)/wayUnit), heightOf(k.drainer.key[i])-r.height
			}
			n++
		}
	}
	if err := k.w.store.Write(s.channel.layer("distance"), t, bytesOf(c.out)); err != nil {
		return err
	}
	return k.w.store.Write(s.channel.layer("height"), t, bytesOf(k.heights))
}

// ChannelDistance sets dst to the length of the way to the channel, as
// [Water.Channels] has it.
func (v *View) ChannelDistance(c Channel, dst raster.Tile) error {
	dst.FillMissing()
	return v.floats(c.layer("distance"), dst)
}

// ChannelHeight sets dst to the height above the channel, as [Water.Channels]
// has it; both heights are filled ones.
func (v *View) ChannelHeight(c Channel, dst raster.Tile) error {
	dst.FillMissing()
	return v.floats(c.layer("height"), dst)
}
