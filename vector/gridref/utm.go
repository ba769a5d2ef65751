package gridref

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// UTM is a place in Universal Transverse Mercator coordinates on WGS 84.
type UTM struct {
	Zone     int  // 1..60
	Band     byte // latitude band, C to X without I and O
	Easting  float64
	Northing float64 // with 10 000 km added south of the equator
}

const (
	bands      = "CDEFGHJKLMNPQRSTUVWX" // of 8 degrees each from 80° S, the last of 12
	rowLetters = "ABCDEFGHJKLMNPQRSTUV" // of squares of 100 km, again and again
	falseNorth = 10_000_000
	falseEast  = 500_000
)

// columnLetters are those of zones 1, 2, 3 and so on by threes.
var columnLetters = [3]string{"ABCDEFGH", "JKLMNPQR", "STUVWXYZ"}

// FromLonLat returns the UTM coordinates of a place on WGS 84, in the zone
// that MGRS puts it in: around Norway and Svalbard some are wider. It reports
// false beyond 84° N and 80° S and for what is no place.
func FromLonLat(lon, lat float64) (UTM, bool) {
	if !(lat >= -80 && lat <= 84 && lon >= -180 && lon <= 180) {
		return UTM{}, false
	}
	if lon == 180 {
		lon = -180
	}
	u := UTM{Zone: zoneOf(lon, lat), Band: bands[min(int(lat+80)/8, len(bands)-1)]}
	x, y := mercator(lat, lon-centre(u.Zone))
	u.Easting, u.Northing = falseEast+x, y
	if u.South() {
		u.Northing += falseNorth
	}
	return u, true
}

// centre is the central meridian of a zone.
func centre(zone int) float64 { return float64(6*zone - 183) }

func zoneOf(lon, lat float64) int {
	zone := int(math.Floor((lon+180)/6)) + 1
	switch {
	case lat >= 56 && lat < 64 && lon >= 3 && lon < 12: // south-west Norway
		return 32
	case lat >= 72 && lon >= 0 && lon < 42: // Svalbard
		return 31 + 2*int((lon+3)/12)
	}
	return zone
}

// South reports whether the place lies south of the equator.
func (u UTM) South() bool { return u.Band < 'N' }

// CRS returns the EPSG code of the zone.
func (u UTM) CRS() string { return zoneCRS(u.Zone, u.South()) }

func zoneCRS(zone int, south bool) string {
	if south {
		return fmt.Sprintf("EPSG:327%02d", zone)
	}
	return fmt.Sprintf("EPSG:326%02d", zone)
}

// String writes zone and hemisphere, easting and northing to the millimetre.
func (u UTM) String() string {
	half := "N"
	if u.South() {
		half = "S"
	}
	return fmt.Sprintf("%d%s %.3f %.3f", u.Zone, half, u.Easting, u.Northing)
}

// MGRS writes the reference of the square that holds the place, with a number
// of digits for each axis, 0 to 5.
func (u UTM) MGRS(digits int) string {
	// A hair is added so that a place exactly on a line, a fraction of a
	// micrometre short of it by rounding, is not cut off to the metre before.
	const hair = 1e-6
	e, n := math.Floor(u.Easting+hair), math.Floor(u.Northing+hair)
	if u.South() {
		n = min(n, falseNorth-1) // a hair south of the equator
	}
	columns := columnLetters[(u.Zone-1)%3]
	col := min(max(int(e/square100)-1, 0), len(columns)-1)
	row := (int(n/square100) + rowShift(u.Zone)) % len(rowLetters)
	return fmt.Sprintf("%02d%c %c%c", u.Zone, u.Band, columns[col], rowLetters[row]) + digitsOf(e, n, digits)
}

// rowShift is how many letters the rows of a zone are ahead.
func rowShift(zone int) int { return 5 * (1 - zone%2) }

// parseZoned reads a reference that opens with a zone.
func parseZoned(text, joined string) (Place, error) {
	digits, rest := cutWhile(joined, isDigit)
	zone, err := strconv.Atoi(digits)
	if err != nil || zone < 1 || zone > 60 {
		return Place{}, unread(text, "zones go from 1 to 60")
	}
	letters, rest := cutWhile(strings.TrimSpace(rest), isLetter)
	if len(letters) == 1 && strings.HasPrefix(rest, " ") && len(rest) > 1 && isLetter(rest[1]) { // "38S MB …"
		more, after := cutWhile(rest[1:], isLetter)
		letters, rest = letters+more, after
	}
	switch len(letters) {
	case 1:
		return parseUTM(text, zone, letters[0], strings.Fields(rest))
	case 3:
		return parseMGRS(text, zone, letters, rest)
	}
	return Place{}, unread(text, "after the zone comes one letter (UTM) or three (MGRS)")
}

// parseUTM reads easting and northing.
func parseUTM(text string, zone int, letter byte, numbers []string) (Place, error) {
	south := letter == 'S' || letter < 'N'
	if strings.IndexByte(bands, letter) < 0 {
		return Place{}, unread(text, fmt.Sprintf("there is no band %c", letter))
	}
	if len(numbers) != 2 || max(len(numbers[0]), len(numbers[1])) > 20 {
		return Place{}, unread(text, "after zone and hemisphere come an easting and a northing")
	}
	e, errE := strconv.ParseFloat(numbers[0], 64)
	n, errN := strconv.ParseFloat(numbers[1], 64)
	if errE != nil || errN != nil || !(e >= 0 && e <= 1_000_000 && n >= 0 && n <= falseNorth) {
		return Place{}, &Problem{fmt.Sprintf("%q holds no UTM coordinates", text), "write the easting (100000 to 900000) and the northing (0 to 10000000) in metres, such as 38N 444140 3684706"}
	}
	half := "N"
	if south {
		half = "S"
	}
	return Place{Text: fmt.Sprintf("%d%s %s %s", zone, half, numbers[0], numbers[1]), System: "UTM", CRS: zoneCRS(zone, south), Easting: e, Northing: n}, nil
}

// parseMGRS reads band, column and row letters and the digits behind them.
func parseMGRS(text string, zone int, letters, digits string) (Place, error) {
	band := strings.IndexByte(bands, letters[0])
	if band < 0 {
		return Place{}, unread(text, fmt.Sprintf("there is no band %c", letters[0]))
	}
	columns := columnLetters[(zone-1)%3]
	col, row := strings.IndexByte(columns, letters[1]), strings.IndexByte(rowLetters, letters[2])
	if col < 0 || row < 0 {
		return Place{}, &Problem{fmt.Sprintf("zone %d has no square %s", zone, letters[1:]),
			fmt.Sprintf("its columns are %c to %c and its rows A to V, without I and O", columns[0], columns[len(columns)-1])}
	}
	east, north, side, spelt, err := within(text, digits)
	if err != nil {
		return Place{}, err
	}
	base, ok := rowNorthing(zone, band, row)
	if !ok {
		return Place{}, &Problem{fmt.Sprintf("the square %s of zone %d does not lie in band %c", letters[1:], zone, letters[0]), "check the letters; the first is the latitude band"}
	}
	return Place{
		Text: fmt.Sprintf("%02d%c %s", zone, letters[0], letters[1:]) + spelt, System: "MGRS",
		CRS: zoneCRS(zone, letters[0] < 'N'), Size: side,
		Easting: square100*float64(col+1) + east + side/2, Northing: base + north + side/2,
	}, nil
}

// rowNorthing returns the northing of the south side of a row of squares in a
// band: of the rows of that letter, 2000 km apart, the one that the band
// meets.
func rowNorthing(zone, band, row int) (northing float64, ok bool) {
	low, high := bandNorthings(band)
	from := float64((row - rowShift(zone) + len(rowLetters)) % len(rowLetters) * square100)
	for n := from; n < falseNorth; n += square100 * float64(len(rowLetters)) {
		if n < high && n+square100 > low {
			return n, true
		}
	}
	return 0, false
}

// bandNorthings returns the least and the most northing in a band, in zones
// of any width: away from the central meridian parallels bend to the pole.
func bandNorthings(band int) (low, high float64) {
	const widest = 9 // degrees from the central meridian: zone 32 begins at 3° E, 6° west of it
	south, north := float64(8*band-80), float64(8*band-72)
	if band == len(bands)-1 {
		north = 84
	}
	_, lowMid := mercator(south, 0)
	_, lowFar := mercator(south, widest)
	_, highMid := mercator(north, 0)
	_, highFar := mercator(north, widest)
	low, high = min(lowMid, lowFar), max(highMid, highFar)
	if south < 0 {
		return low + falseNorth, high + falseNorth
	}
	return low, high
}
