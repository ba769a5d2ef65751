package ellerdown

import "math"

// Cover is what grows or stands on the ground, by its code on the cover map.
type Cover uint8

// The covers. NoCover is ground that the cover map leaves blank.
const (
	NoCover     Cover = 0
	BeechWood   Cover = 107
	OakWood     Cover = 109
	BirchWood   Cover = 114
	MixedWood   Cover = 118
	Plantation  Cover = 126
	Heath       Cover = 133
	Bog         Cover = 139
	RoughGrass  Cover = 147
	Pasture     Cover = 152
	Arable      Cover = 158
	Orchard     Cover = 161
	BareGround  Cover = 173
	BuiltGround Cover = 185
	OpenWater   Cover = 194
)

// coverTable is the legend, and what each cover does to the pH of the soil:
// fields are limed, needles and heather sour it.
var coverTable = []struct {
	Cover
	name string
	acid float64
}{
	{BeechWood, "beech wood", -0.1}, {OakWood, "oak wood", -0.05}, {BirchWood, "birch wood", -0.1},
	{MixedWood, "mixed wood", -0.1}, {Plantation, "spruce plantation", -0.35}, {Heath, "heath", -0.35},
	{Bog, "bog", -0.3}, {RoughGrass, "rough grass", 0.1}, {Pasture, "pasture", 0.5}, {Arable, "arable", 0.9},
	{Orchard, "orchard", 0.7}, {BareGround, "bare ground", 0}, {BuiltGround, "built", 0}, {OpenWater, "water", 0},
}

var liming = func() (out [256]float64) {
	for _, c := range coverTable {
		out[c.Cover] = c.acid
	}
	return out
}()

// coverAt tells what covers a place whose slope is given as a tangent.
// Edge, about -1 to 1, frays the borders.
func (s *spot) coverAt(x, y, slope, edge float64) Cover {
	switch {
	case s.lake < 1, s.stream(edge):
		return OpenWater
	case s.town < 1 && (s.town < 0.6 || edge > -0.35):
		return BuiltGround
	case s.town < 1.25 && slope < 0.12:
		return s.field(x, y)
	case slope > 0.62+float64(0.1*edge):
		return BareGround
	case s.rock == Peat:
		return Bog
	}
	wooded := s.wood + float64(0.16*edge) + float64(1.5*min(slope, 0.3)) - 0.16
	open := s.rock == PlateauSand || s.height > 215 && slope < 0.2
	if open && s.heath+float64(0.2*edge) > -0.22 {
		if wooded > 0.4 {
			return BirchWood
		}
		return Heath
	}
	if wooded > 0.17 {
		return s.trees(x, y, slope, edge)
	}
	if s.height > 165 || slope > 0.27 {
		return RoughGrass
	}
	return s.field(x, y)
}

// stream tells whether water runs here: in the bottoms of valleys, and of
// gills that run down to them.
func (s *spot) stream(edge float64) bool {
	return s.valley < 0.0024+float64(0.0012*edge) && s.height < 190 ||
		s.gill < 0.0016+float64(0.001*edge) && s.valley < 0.22 && s.height < 230
}

// trees tells which wood it is: spruce in planted blocks, birch on poor and
// young ground, beech on dry slopes, oak on heavier soil.
func (s *spot) trees(x, y, slope, edge float64) Cover {
	stock := stockWave.at(x, y) + float64(0.15*edge)
	rock := &rockTable[s.rock]
	switch {
	case planted(x, y) && slope < 0.4:
		return Plantation
	case s.height > 190 && stock > -0.1, s.wood < 0.02 && stock > 0.25 && rock.acid < 5:
		return BirchWood
	case s.rock == Limestone || slope > 0.12 && rock.acid < 5.5 && stock > -0.3:
		return BeechWood
	case stock > 0.32:
		return MixedWood
	}
	return OakWood
}

// planted tells whether a place lies in a planted block.
func planted(x, y float64) bool {
	u := float64(0.966*x) + float64(0.259*y)
	v := float64(0.966*y) - float64(0.259*x)
	i, j := int32(math.Floor(u/640)), int32(math.Floor(v/470))
	return unit(scramble(i, j, 131)) < 0.16
}

// field tells what is grown in the field a place lies in.
func (s *spot) field(x, y float64) Cover {
	bend := 18 * s.heath
	u := float64(0.94*x) + float64(0.342*y) + bend
	v := float64(0.94*y) - float64(0.342*x) + bend
	i, j := int32(math.Floor(u/210)), int32(math.Floor(v/160))
	use := unit(scramble(i, j, 141))
	plough := 0.62 - s.height/300
	if s.rock == Alluvium || s.rock == Shale {
		plough -= 0.25
	}
	switch {
	case use < plough:
		return Arable
	case use > 0.985:
		return Orchard
	case use > 0.95:
		return OakWood // a copse
	}
	return Pasture
}

// soilAt is the pH of the topsoil in water.
func (s *spot) soilAt(x, y float64, c Cover) float64 {
	ph := rockTable[s.rock].acid + liming[c] + float64(0.25*soilWave.at(x, y)) + float64(0.2*ramp(s.valley, 0.2, 0))
	return min(max(ph, 3.3), 8.2)
}
