package habitat

import (
	"context"
	"sync/atomic"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/pipe"
	"likelyground/raster/water"
)

// accountWater is what is known of the water that a plan's layers follow one
// way.
type accountWater struct {
	Map     string    `json:"map"`
	MarginM float64   `json:"margin_m"`
	Drains  string    `json:"drains,omitempty"` // map and classes
	Flow    plan.Flow `json:"flow"`
	Known   int64     `json:"known_cells"`       // of the grid
	Cut     int64     `json:"cut_upslope_cells"` // of these: water may reach them from beyond what was read, or from a hole
}

// flows returns the ways of the water that was gathered.
func (f *following) flows() (out []plan.Flow) {
	for _, flow := range []plan.Flow{plan.ManyWays, plan.OneWay} {
		for _, d := range f.derived {
			if gathers(d) && (d.Flow == plan.OneWay) == (flow == plan.OneWay) {
				out = append(out, flow)
				break
			}
		}
	}
	return out
}

// count counts the cells of the grid whose upslope area is cut.
func (f *following) count(ctx context.Context, grid raster.Window, threads int) error {
	for _, flow := range f.flows() {
		layer := water.CutMany
		if flow == plan.OneWay {
			layer = water.CutOne
		}
		var known, cut atomic.Int64
		const rows = 256
		err := pipe.Each(ctx, (grid.Rows+rows-1)/rows, threads, func(i int) error {
			w := raster.Window{Col: grid.Col, Row: grid.Row + i*rows, Cols: grid.Cols, Rows: rows}.Clip(grid)
			k, c, err := countCut(f.water.View(), layer, w)
			known.Add(k)
			cut.Add(c)
			return err
		})
		if err != nil {
			return err
		}
		f.counted = append(f.counted, accountWater{f.source.m.Name, f.margin, f.derived[0].Drains.String(), flow, known.Load(), cut.Load()})
	}
	return nil
}

// countCut counts in a window, by rows of tiles so that it needs little room.
func countCut(v *water.View, layer water.Layer, w raster.Window) (known, cut int64, err error) {
	const cols = 512
	tile := raster.NewTile(raster.Window{Cols: cols, Rows: w.Rows})
	for col := w.Col; col < w.EndCol(); col += cols {
		t := raster.Tile{Window: raster.Window{Col: col, Row: w.Row, Cols: cols, Rows: w.Rows}.Clip(w)}
		t.Values = tile.Values[:t.Size()]
		if err := v.Read(layer, t); err != nil {
			return known, cut, err
		}
		for _, c := range t.Values {
			if c == c {
				known++
			}
			if c == 1 {
				cut++
			}
		}
	}
	return known, cut, nil
}

// accountWaters returns what was counted of all waters.
func (d *desk) accountWaters() (out []accountWater) {
	for _, f := range d.graph.waters {
		out = append(out, f.counted...)
	}
	return out
}

// waterNeeds is what following water takes for each cell of its ground.
type waterNeeds struct {
	cost float64 // nanoseconds of one processor
	disk int64   // bytes of scratch at the most
}

// needs foretells; the costs are rough figures from kernels on a busy machine.
func (f *following) needs() waterNeeds {
	const (
		surface   = 8  // heights and filled heights
		underway  = 14 // while hollows are filled: the same, labels, and heights as they were brought
		ways      = 1
		amounts   = 5
		waiting   = 4 // while water is shared out
		areas     = 4
		distances = 8 // to a channel and above it
	)
	n := waterNeeds{cost: 25, disk: surface}
	if flows := f.flows(); len(flows) > 0 {
		n.cost += 25
		n.disk += ways + int64(amounts*len(flows))
		for _, flow := range flows {
			n.cost += 15
			if flow == plan.ManyWays {
				n.cost += 55
				n.disk += waiting
			}
		}
	}
	type channel struct {
		from float64
		flow plan.Flow
	}
	channels, hollows := map[channel]bool{}, false
	for _, d := range f.derived {
		if d.Channel > 0 {
			channels[channel{d.Channel, d.Flow}] = true
		}
		hollows = hollows || d.Verb == plan.HollowArea
	}
	n.cost += 25 * float64(len(channels))
	n.disk += distances * int64(len(channels))
	if hollows {
		n.cost, n.disk = n.cost+10, n.disk+areas
	}
	n.disk = max(n.disk, underway)
	return n
}
