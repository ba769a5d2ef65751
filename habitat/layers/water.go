package layers

import (
	"context"
	"fmt"
	"math"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/pipe"
	"likelyground/raster/water"
)

const hectare = 1e4 // square metres

// fromWater makes the node of a layer that follows water. The engine may open
// it once the Water that the context gives has been worked out, see [WorkOut].
func fromWater(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	if c.Water == nil {
		return nil, fmt.Errorf("no water for %q", d.Name)
	}
	if err := tooFar(d, d.WaterMargin(), c); err != nil {
		return nil, err
	}
	get := c.Water(d)
	return &pipe.Node{Open: func() (pipe.Evaluator, error) {
		w := get()
		if w == nil {
			return nil, fmt.Errorf("the water of %q has not been followed", in.Name)
		}
		v := w.View()
		return pipe.Plain(func(out raster.Tile, _ []raster.Tile) error { return readWater(v, d, out) })()
	}}, nil
}

// readWater sets out to the layer, in the unit that the table of verbs has.
func readWater(v *water.View, d plan.Derived, out raster.Tile) error {
	switch d.Verb {
	case plan.Filled:
		return v.Read(water.Filled, out)
	case plan.HollowDepth:
		return v.Read(water.HollowDepth, out)
	case plan.HollowArea:
		return inHectares(v, water.HollowArea, out)
	case plan.Gathered:
		return inHectares(v, byFlow(d, water.GatheredOne, water.GatheredMany), out)
	case plan.Wetness:
		return v.Read(byFlow(d, water.WetnessOne, water.WetnessMany), out)
	case plan.ChannelDistance:
		return v.ChannelDistance(channelOf(d), out)
	case plan.ChannelHeight:
		return v.ChannelHeight(channelOf(d), out)
	}
	return fmt.Errorf("no water in the verb %q", d.Verb)
}

func inHectares(v *water.View, l water.Layer, out raster.Tile) error {
	err := v.Read(l, out)
	for i, a := range out.Values {
		out.Values[i] = float32(float64(a) / hectare)
	}
	return err
}

func byFlow(d plan.Derived, one, many water.Layer) water.Layer {
	if d.Flow == plan.OneWay {
		return one
	}
	return many
}

func channelOf(d plan.Derived) water.Channel {
	return water.Channel{Least: d.Channel, Many: d.Flow != plan.OneWay}
}

// WorkOut does what a layer that follows water needs to be done with the
// ground's water before it can be read.
func WorkOut(ctx context.Context, w *water.Water, d plan.Derived) error {
	switch d.Verb {
	case plan.HollowArea:
		return w.Hollows(ctx)
	case plan.Gathered, plan.Wetness:
		if d.Flow == plan.OneWay {
			return w.GatherOne(ctx)
		}
		return w.GatherMany(ctx)
	case plan.ChannelDistance, plan.ChannelHeight:
		return w.Channels(ctx, channelOf(d))
	}
	return nil
}

// Stages returns the stages of water that [WorkOut] does for a layer, beyond
// the filling of hollows.
func Stages(d plan.Derived) []string {
	many := d.Flow != plan.OneWay
	switch d.Verb {
	case plan.HollowArea:
		return []string{water.HollowStage}
	case plan.Gathered, plan.Wetness:
		return water.GatherStages(many)
	case plan.ChannelDistance, plan.ChannelHeight:
		return append(water.GatherStages(many), channelOf(d).Stage())
	}
	return nil
}

// ToMetres is what heights of a unit are multiplied with to be metres.
func ToMetres(unit string) float32 {
	if unit == plan.UnitFeet {
		return feet
	}
	return 1
}

// reachOfWater is how far, in metres, a layer of water reads around.
func reachOfWater(d plan.Derived, dx, dy float64) float64 {
	return max(d.WaterMargin(), math.Hypot(dx, dy))
}
