package habitat

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/vector/gridref"
)

// lonLatCRS is longitude and latitude on WGS 84, in this order.
const lonLatCRS = "OGC:CRS84"

// placeHelp ends the remedy of every place that cannot be used.
const placeHelp = "write longitude and latitude in degrees (-3.21 54.5), easting and northing in the grid's own CRS, or a grid reference (NN 166 712, O 159 346, 38S MB 44 84)"

// askedPlace is a place as it was asked for.
type askedPlace struct {
	crs  string
	x, y float64
	size float64 // side in metres of the square that a grid reference means; 0 for a point
	read string  // what it was taken for
}

// findPlace finds the cell that a text means.
func (d *desk) findPlace(text string) (at askedPlace, col, row int, err error) {
	text = strings.TrimSpace(strings.NewReplacer("\u2212", "-", "°", " ").Replace(text))
	if strings.ContainsFunc(text, func(r rune) bool { return r != 'e' && r != 'E' && r >= 'A' && r <= 'z' }) || isReference(text) {
		return d.findReference(text)
	}
	a, b, err := twoNumbers(text)
	if err != nil {
		return askedPlace{}, 0, 0, err
	}
	ways := d.readings(a, b)
	var first error
	for i, at := range ways {
		col, row, err := d.cellOf(at)
		if err == nil {
			return at, col, row, nil
		}
		if i == 0 {
			first = err
		}
	}
	return askedPlace{}, 0, 0, d.swappedHint(a, b, first)
}

// isReference tells a grid reference whose only letters are E.
func isReference(text string) bool {
	if _, _, err := twoNumbers(text); err == nil {
		return false
	}
	return strings.ContainsAny(text, "eE")
}

func twoNumbers(text string) (a, b float64, err error) {
	fields := strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '\t' || r == '\n' })
	if len(fields) == 2 {
		var errA, errB error
		a, errA = strconv.ParseFloat(fields[0], 64)
		b, errB = strconv.ParseFloat(fields[1], 64)
		if errA == nil && errB == nil && !math.IsInf(a, 0) && !math.IsInf(b, 0) && a == a && b == b {
			return a, b, nil
		}
	}
	return 0, 0, &Fault{What: fmt.Sprintf("%q is no place", text), Fix: placeHelp}
}

// readings are what two numbers may mean, the likeliest first: degrees, where
// they can be, then metres of the grid.
func (d *desk) readings(a, b float64) []askedPlace {
	own := askedPlace{crs: d.grid.CRS, x: a, y: b, read: "easting and northing in " + d.grid.info.Name}
	if math.Abs(a) > 180 || math.Abs(b) > 90 {
		return []askedPlace{own}
	}
	return []askedPlace{{crs: lonLatCRS, x: a, y: b, read: "longitude and latitude"}, own}
}

// swappedHint says so where the numbers the other way round lie on the grid.
func (d *desk) swappedHint(a, b float64, err error) error {
	for _, at := range d.readings(b, a) {
		if _, _, wrong := d.cellOf(at); wrong == nil {
			return &Fault{What: err.Error(), Fix: fmt.Sprintf("the other way round it lies on the grid: write %v %v (longitude or easting first)", b, a)}
		}
	}
	return err
}

func (d *desk) findReference(text string) (at askedPlace, col, row int, err error) {
	p, err := gridref.Parse(text)
	if err != nil {
		return askedPlace{}, 0, 0, &Fault{What: err.Error(), Fix: remedyOf(err)}
	}
	at = askedPlace{crs: p.CRS, x: p.Easting, y: p.Northing, size: p.Size, read: p.System + " " + p.Text}
	if p.Size > 0 {
		at.read += ", the middle of a square of " + metres(p.Size)
	}
	col, row, err = d.cellOf(at)
	return at, col, row, err
}

// metres writes a length.
func metres(m float64) string {
	if m >= 1000 {
		return fmt.Sprintf("%g km", m/1000)
	}
	return fmt.Sprintf("%g m", m)
}

// cellOf returns the cell of the grid that holds a place. The error says how
// far off the place is.
func (d *desk) cellOf(at askedPlace) (col, row int, err error) {
	x, y, err := d.onGrid(at)
	if err != nil {
		return 0, 0, err
	}
	c, r := d.grid.Cell(x, y)
	if math.Abs(c) < 1<<40 && math.Abs(r) < 1<<40 {
		col, row = raster.CellAt(c), raster.CellAt(r)
		if d.grid.Window().Holds(raster.Window{Col: col, Row: row, Cols: 1, Rows: 1}) {
			return col, row, nil
		}
	}
	one := raster.Grid{X0: x, Y0: y}
	return 0, 0, &Fault{What: fmt.Sprintf("the place (%s) lies outside the grid, %s of it", at.read, apart(one, d.grid)), Fix: "name a place on the plan's grid; " + placeHelp}
}

// onGrid brings a place to the grid's CRS.
func (d *desk) onGrid(at askedPlace) (x, y float64, err error) {
	w, s, e, n := d.grid.Bounds()
	box, err := crs.UsableBox(d.grid.CRS, w, s, e, n)
	if err != nil {
		return 0, 0, err
	}
	op, err := crs.Choose(at.crs, d.grid.CRS, box, crs.Options{})
	if err != nil {
		return 0, 0, &Fault{What: fmt.Sprintf("the place (%s) cannot be brought onto the grid: %v", at.read, err), Fix: "give the place by easting and northing in " + d.grid.info.Name}
	}
	t, err := op.Open()
	if err != nil {
		return 0, 0, err
	}
	defer t.Close()
	xs, ys := []float64{at.x}, []float64{at.y}
	t.Forward(xs, ys)
	if math.IsInf(xs[0], 0) {
		return 0, 0, &Fault{What: fmt.Sprintf("the place (%s) has no place in %s", at.read, d.grid.info.Name), Fix: "name a place on the plan's grid; " + placeHelp}
	}
	return xs[0], ys[0], nil
}

// place describes a cell of the grid.
func (d *desk) place(at askedPlace, col, row int) (WhyPlace, error) {
	x, y := d.grid.Position(float64(col)+0.5, float64(row)+0.5)
	p := WhyPlace{Asked: at.read, X: x, Y: y, CRS: d.grid.name(), CRSName: d.grid.info.Name, Col: col, Row: row, CellX: d.grid.DXm(), CellY: d.grid.DYm(), SquareM: at.size}
	op, err := d.lonLatOp()
	if err != nil {
		return p, nil // a grid without known datum has no longitude
	}
	t, err := op.Open()
	if err != nil {
		return p, err
	}
	defer t.Close()
	xs, ys := []float64{x}, []float64{y}
	t.Forward(xs, ys)
	if !math.IsInf(xs[0], 0) {
		p.Lon, p.Lat = &xs[0], &ys[0]
	}
	p.Reference = reference(p, 5)
	return p, nil
}

// lonLatOp is the way from the grid to longitude and latitude: the one that
// ranked areas take, where there are any.
func (d *desk) lonLatOp() (crs.Operation, error) {
	if d.toLonLat.To != "" {
		return d.toLonLat, nil
	}
	w, s, e, n := d.grid.Bounds()
	box, err := crs.UsableBox(d.grid.CRS, w, s, e, n)
	if err != nil {
		return crs.Operation{}, err
	}
	return crs.Choose(d.grid.CRS, lonLatCRS, box, crs.Options{})
}

// reference writes the cell's centre in the national grid that the run uses,
// or else in MGRS, with a number of digits for each axis; "" where neither
// reaches. In the Netherlands it is the two RD coordinates in metres, cut off to
// the same steps: 1 m with five digits, 100 m with three.
func reference(p WhyPlace, digits int) string {
	switch p.CRS {
	case "EPSG:27700":
		if text, err := gridref.British(p.X, p.Y, digits); err == nil {
			return text
		}
	case "EPSG:29902", "EPSG:29903":
		if text, err := gridref.Irish(p.X, p.Y, digits); err == nil {
			return text
		}
	}
	if p.CRS == "EPSG:28992" {
		step := math.Pow10(5 - digits)
		return fmt.Sprintf("RD %.0f %.0f", math.Floor(p.X/step)*step, math.Floor(p.Y/step)*step)
	}
	if p.Lon == nil {
		return ""
	}
	u, ok := gridref.FromLonLat(*p.Lon, *p.Lat)
	if !ok {
		return ""
	}
	return u.MGRS(digits)
}
