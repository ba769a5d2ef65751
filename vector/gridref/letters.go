package gridref

import (
	"fmt"
	"math"
	"strings"
)

// squares are the 25 letters of a five by five square, I left out, row by row
// from the north-west.
const squares = "ABCDEFGHJKLMNOPQRSTUVWXYZ"

// lettered is a national grid with letters for its squares of 100 km.
type lettered struct {
	name   string
	crs    string
	outer  bool // a letter for squares of 500 km comes first, S at the origin
	width  int  // squares of 100 km from the origin eastward
	height int  // and northward
	like   string
}

var (
	britishGrid = lettered{"British National Grid", "EPSG:27700", true, 7, 13, "TG 51409 13177"}
	irishGrid   = lettered{"Irish Grid", "EPSG:29903", false, 5, 5, "O 15904 34671"}
)

// British writes a place of the British National Grid (EPSG:27700), in
// metres, with a number of digits for each axis, 0 to 5. The error is a
// [*Problem]: the place lies off the grid.
func British(easting, northing float64, digits int) (string, error) {
	return britishGrid.format(easting, northing, digits)
}

// Irish writes a place of the Irish Grid (EPSG:29903 or 29902) as [British]
// does.
func Irish(easting, northing float64, digits int) (string, error) {
	return irishGrid.format(easting, northing, digits)
}

func (g lettered) parse(text, letters, digits string) (Place, error) {
	col, row, ok := g.squareOf(letters)
	if !ok {
		return Place{}, &Problem{fmt.Sprintf("the %s has no square %s", g.name, letters), "check the letters; " + examples}
	}
	east, north, side, spelt, err := within(text, digits)
	if err != nil {
		return Place{}, err
	}
	return Place{
		Text: letters + spelt, System: g.name, CRS: g.crs, Size: side,
		Easting: square100*float64(col) + east + side/2, Northing: square100*float64(row) + north + side/2,
	}, nil
}

// place returns a letter's column from the west and row from the south in a
// five by five square.
func place(letter byte) (col, row int, ok bool) {
	i := strings.IndexByte(squares, letter)
	return i % 5, 4 - i/5, i >= 0
}

// squareOf returns which square of 100 km letters mean, counted from the
// grid's origin.
func (g lettered) squareOf(letters string) (col, row int, ok bool) {
	col, row, ok = place(letters[len(letters)-1])
	if g.outer {
		c, r, known := place(letters[0])
		col, row, ok = col+5*(c-2), row+5*(r-1), ok && known
	}
	return col, row, ok && col >= 0 && row >= 0 && col < g.width && row < g.height
}

func (g lettered) format(easting, northing float64, digits int) (string, error) {
	if !(easting >= 0 && northing >= 0 && easting < float64(g.width*square100) && northing < float64(g.height*square100)) {
		return "", &Problem{fmt.Sprintf("%.0f %.0f lies off the %s", easting, northing, g.name), "give the place by its coordinates"}
	}
	col, row := int(easting/square100), int(northing/square100)
	letters := string(squares[5*(4-row%5)+col%5])
	if g.outer {
		letters = string(squares[5*(3-row/5)+2+col/5]) + letters
	}
	return letters + digitsOf(math.Floor(easting), math.Floor(northing), digits), nil
}
