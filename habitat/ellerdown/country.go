package ellerdown

import "math"

// The waves the country is made of. Lengths in metres.
var (
	bendX, bendY = wave{1700, 11}, wave{1700, 12}
	meander      = wave{330, 13}
	massWide     = wave{9000, 21}
	massNarrow   = wave{4200, 22}
	valleyWave   = wave{2100, 31}
	gillWave     = wave{820, 32}
	gullyWave    = wave{330, 33}
	humpWave     = wave{170, 34}
	bumpWave     = wave{90, 35}
	bandWide     = wave{5200, 41}
	bandNarrow   = wave{1500, 42}
	driftWave    = wave{1900, 43}
	sandWave     = wave{1300, 44}
	woodWide     = wave{1150, 51}
	woodNarrow   = wave{330, 52}
	heathWave    = wave{700, 53}
	stockWave    = wave{620, 54}
	edgeWave     = wave{70, 55}
	soilWave     = wave{480, 61}
	gapSoil      = wave{2300, 171}
	gapCover     = wave{800, 112}
	gapGround    = wave{900, 273}
	gapRock      = wave{2700, 94}
)

// relief is the shape of the land at a place. All but height are without
// unit: crease values are 0 on the line of a valley, about 1 far from it.
type relief struct {
	x, y                float64 // where the waves are read: the place, bent
	mass                float64 // 0 in the plain, 1 in the hills
	valley, gill, gully float64
	height              float64 // metres, before lakes
}

// reliefAt gives hills with rounded tops and valleys that branch: noise
// folded at zero creases along lines, and the creases of each wave run down
// to those of the longer one.
func reliefAt(x, y float64) relief {
	wind := meander.at(x, y)
	r := relief{x: x + float64(260*bendX.at(x, y)) + float64(34*wind), y: y + float64(260*bendY.at(x, y)) - float64(24*wind)}
	m := float64(0.7*massWide.at(r.x, r.y)) + float64(0.6*massNarrow.at(r.x, r.y))
	r.mass = ramp(m, -0.5, 0.6)
	r.valley, r.gill, r.gully = fold(valleyWave.at(r.x, r.y)), fold(gillWave.at(r.x, r.y)), fold(gullyWave.at(r.x, r.y))
	h := 34 + float64(120*r.mass)
	h += float64((60 + float64(290*r.mass)) * r.valley)
	h += float64(float64((28+float64(170*r.mass))*r.gill) * (0.22 + r.valley))
	h += float64(float64((9+float64(58*r.mass))*r.gully) * (0.16 + r.valley))
	h += float64(3.2*humpWave.at(r.x, r.y)) + float64(1.3*bumpWave.at(r.x, r.y))
	r.height = plateau(h)
	return r
}

// fold turns a wave into a valley with a rounded floor.
func fold(n float64) float64 { return math.Sqrt(float64(n*n)+0.0009) - 0.03 }

// plateau bends what would rise above 225 m into broad tops.
func plateau(h float64) float64 {
	const from, room = 225, 80
	if h <= from {
		return h
	}
	return from + (h-from)/(1+(h-from)/room)
}

// Rock is what lies at the surface, drift before bedrock.
type Rock uint8

// The rocks. NoRock is ground that the geological map leaves blank.
const (
	NoRock Rock = iota
	Sandstone
	Gritstone
	Shale
	Limestone
	Mudstone
	PlateauSand
	RiverGravel
	BoulderClay
	Alluvium
	Peat
	rocks
)

// rockTable gives each rock its name on the map and the pH that soil on it
// tends to.
var rockTable = [rocks]struct {
	name string
	acid float64
}{
	{"", 5.6}, {"sandstone", 4.6}, {"gritstone", 4.4}, {"shale", 5.3}, {"limestone", 7.1}, {"mudstone", 5.9},
	{"plateau sand", 4.2}, {"river gravel", 5.4}, {"boulder clay", 6.1}, {"alluvium", 6.4}, {"peat", 3.8},
}

// String returns the rock's name on the geological map, empty for NoRock.
func (r Rock) String() string { return rockTable[r].name }

// beds is the order of the bedrock from the bottom up; it tilts, so that the
// beds crop out in bands.
var beds = [...]Rock{Sandstone, Shale, Gritstone, Mudstone, Sandstone, Limestone, Shale}

// rockAt gives drift where it lies, bedrock elsewhere.
func (r relief) rockAt(x, y float64) Rock {
	switch sand := float64(0.5*sandWave.at(r.x, r.y)) + float64((r.height-215)/70); {
	case r.valley < 0.035 && r.height < 130:
		return Alluvium
	case r.valley < 0.075 && r.height < 115:
		return RiverGravel
	case sand > 0.75 && r.gill < 0.14 && r.valley > 0.2:
		return Peat
	case sand > 0.42:
		return PlateauSand
	case r.height < 118 && driftWave.at(r.x, r.y) > 0.22:
		return BoulderClay
	}
	at := (x+float64(0.55*y))/2600 + float64(1.1*bandWide.at(r.x, r.y)) + float64(0.3*bandNarrow.at(r.x, r.y)) - r.height/420
	n := len(beds)
	return beds[((int(math.Floor(at*1.6))%n)+n)%n]
}

// spot is all there is to know about a place.
type spot struct {
	relief
	rock        Rock
	lake, town  float64 // below 1 inside, above outside
	level       float64 // of the lake near by, metres
	wood, heath float64 // leaning to wood and heath, above 0 rather yes
}

// spotAt works out a place given in EPSG:25831.
func spotAt(x, y float64) spot {
	s := spot{relief: reliefAt(x, y)}
	s.settle(x, y)
	s.rock = s.rockAt(x, y)
	s.wood = float64(0.75*woodWide.at(s.x, s.y)) + float64(0.45*woodNarrow.at(x, y))
	s.heath = heathWave.at(s.x, s.y)
	return s
}

// heightAt is the ground's height with its lakes.
func heightAt(x, y float64) float64 {
	s := spot{relief: reliefAt(x, y)}
	s.settleLake(x, y)
	return s.height
}
