package maps

import (
	"math"
	"sync"

	"likelyground/raster"
)

// flag says what is odd about a source cell.
type flag uint8

const (
	sound     flag = iota
	clipped        // outside the range that the plan allows: missing
	tooLow         // below what such a quantity can be
	tooHigh        // above it
	notACode       // a class that is no whole number of 32 bits
	unbounded      // an infinite number: missing
	sentinel       // sentinel+i is the i-th of sentinels
)

// wrong tells whether a cell of this kind makes the plan or the map wrong; the
// others are only counted.
func (k flag) wrong() bool { return k != sound && k != clipped && k != unbounded }

// sentinels are the numbers that map makers write where they know nothing.
// A magnitude from hugeNumber on stands for the largest of a float type.
var sentinels = [...]float64{-9999, -99999, -999, -32768, -32767, 32767, 65535, -hugeNumber, hugeNumber}

const (
	hugeNumber = 3.4e38
	flagKinds  = int(sentinel) + len(sentinels)
)

// sentinelFlag returns the flag of a number that is a sentinel, or sound. An
// infinite number is none: it counts as missing without a word of the plan.
func sentinelFlag(x float64) flag {
	if math.Abs(x) >= hugeNumber && !math.IsInf(x, 0) {
		x = math.Copysign(hugeNumber, x)
	}
	for i, s := range sentinels {
		if x == s {
			return sentinel + flag(i)
		}
	}
	return sound
}

// rules are what a map's numbers are held against.
type rules struct {
	sentinels bool        // undeclared sentinels are looked for
	sane      bool        // values outside low to high are
	low, high float64     // in the unit of the plan
	between   *[2]float64 // the plan's own range
}

// metresPerFoot is the international foot, exactly.
const metresPerFoot = 0.3048

// newRules returns the rules of a map: heights lie in -500..9000 m, pH in
// 2..11, unless the plan gives a range of its own or insists.
func newRules(s *RasterSpec) rules {
	j := rules{low: math.Inf(-1), high: math.Inf(1), between: s.Between}
	if s.Classes {
		return rules{}
	}
	j.sentinels = !s.MissingNone
	if s.MissingNone || s.Between != nil {
		return j
	}
	switch {
	case s.Elevation && s.Unit == "ft":
		j.sane, j.low, j.high = true, -500/metresPerFoot, 9000/metresPerFoot
	case s.Elevation:
		j.sane, j.low, j.high = true, -500, 9000
	case s.Unit == "pH":
		j.sane, j.low, j.high = true, 2, 11
	}
	return j
}

// within tells whether the plan's range holds a value.
func (j *rules) within(v float64) bool {
	return j.between == nil || v >= j.between[0] && v <= j.between[1]
}

// suspicious tells from the extremes of a file's numbers whether some of them
// must be looked at one by one.
func (j *rules) suspicious(f *rasterFile, low, high float64) bool {
	if low > high {
		return false
	}
	if j.sentinels && (low <= -999 || high >= 32767) {
		return true
	}
	a, b := f.physical(low), f.physical(high)
	a, b = min(a, b), max(a, b)
	return j.sane && (a < j.low || b > j.high) || !(a >= -math.MaxFloat32 && b <= math.MaxFloat32)
}

// judge returns what is odd about a number of the file.
func (j *rules) judge(f *rasterFile, x float64) flag {
	v := f.physical(x)
	if !j.within(v) {
		return clipped
	}
	if j.sentinels {
		if s := sentinelFlag(x); s != sound {
			return s
		}
	}
	switch {
	case math.Abs(v) > math.MaxFloat32:
		return unbounded
	case j.sane && v < j.low:
		return tooLow
	case j.sane && v > j.high:
		return tooHigh
	}
	return sound
}

// sully readies the block's flags at its first odd cell.
func (b *block) sully() {
	if !b.dirty {
		b.dirty = true
		b.flags = sized(b.flags, b.Size())
		setAll(b.flags, sound)
	}
}

// flagValues marks the odd cells of a piece. A number that no float32 holds is
// made missing.
func flagValues[T float32 | float64](d *decoder, raw []T) {
	d.block.sully()
	for i := range raw[:d.piece.Size()] {
		x, ok := d.number(float64(raw[i]), i)
		if !ok {
			continue
		}
		kind := d.rules.judge(d.file, x)
		if kind == sound {
			continue
		}
		at := d.place(i)
		if v := d.block.values[at]; d.block.filled > 0 && v == v && float64(v) != float64(float32(d.file.physical(x))) {
			continue
		}
		if d.block.flags[at] == sound {
			d.block.flags[at] = kind
		}
		if math.IsInf(float64(d.block.values[at]), 0) {
			d.block.values[at] = raster.Missing
		}
	}
}

// flagCodes marks the cells of a piece whose number is no class code.
func (d *decoder) flagCodes(raw []float64) {
	d.block.sully()
	for i := range raw[:d.piece.Size()] {
		x, ok := d.number(raw[i], i)
		at := d.place(i)
		if ok && !isCode(x) && d.block.codes[at] == raster.MissingCode && d.block.flags[at] == sound {
			d.block.flags[at] = notACode
		}
	}
}

// place returns where in the block the i-th cell of the piece lies.
func (d *decoder) place(i int) int {
	return d.block.Index(d.piece.Col+i%d.piece.Cols, d.piece.Row+i/d.piece.Cols)
}

// finding is an odd source cell that a needed grid cell uses.
type finding struct {
	part     int
	col, row int
	kind     flag
}

// judge notes the odd source cells of the block that needed cells of w use.
// need belongs to the window whole.
func (r *rasterReader) judge(p *partReader, whole, w raster.Window, need []bool) error {
	r.found = r.found[:0]
	for row := w.Row; row < w.EndRow(); row++ {
		var wanted []bool
		if need != nil {
			wanted = need[whole.Index(w.Col, row):][:w.Cols]
		}
		r.judgeRow(p, w, row, wanted)
	}
	return r.source.note(r, r.found)
}

// judgeRow notes what the needed cells of one row use.
func (r *rasterReader) judgeRow(p *partReader, w raster.Window, row int, wanted []bool) {
	if s := p.part.shift; s != nil {
		from, to, at := r.block.sameRow(s, w, row)
		for i := from; i < to; i++ {
			if wanted == nil || wanted[i] {
				r.look(p, at+i-from)
			}
		}
		return
	}
	k := p.part.points
	for j := range k {
		r.position(p, w, row, k, j)
		for i := range w.Cols {
			if wanted != nil && !wanted[i] {
				continue
			}
			for m := i * k; m < i*k+k; m++ {
				r.lookAround(p, r.cols[m], r.rows[m])
			}
		}
	}
}

// lookAround looks at the source cells that one position uses: the one that
// holds it and, where quantities are refined, those interpolated between.
func (r *rasterReader) lookAround(p *partReader, col, row float64) {
	b := &r.block
	if !b.inside(col, row) {
		return
	}
	at := b.hold(col, row)
	r.look(p, at)
	if b.values == nil || !p.part.refined() || b.values[at] != b.values[at] {
		return
	}
	c0, x := between(col)
	r0, y := between(row)
	at = (r0-b.Row)*b.Cols + c0 - b.Col
	r.look(p, at)
	if x > 0 {
		r.look(p, at+1)
	}
	if y > 0 {
		r.look(p, at+b.Cols)
	}
	if x > 0 && y > 0 {
		r.look(p, at+b.Cols+1)
	}
}

// look notes one source cell where it is odd.
func (r *rasterReader) look(p *partReader, at int) {
	b := &r.block
	if kind := b.flags[at]; kind != sound {
		r.found = append(r.found, finding{p.part.number, b.Col + at%b.Cols, b.Row + at/b.Cols, kind})
	}
}

// tally gathers what the readers of a map found. Its counts do not depend on
// how the grid was cut into tiles.
type tally struct {
	mu     sync.Mutex
	counts counts
	odd    [flagKinds]oddCells
	marked []map[[2]int]*[64]uint64 // per part: 64 × 64 source cells a block, seen or not
}

// oddCells counts source cells of one kind; first is the earliest of them.
type oddCells struct {
	n     int64
	first finding
	value float64
}

func newTally(parts int) *tally {
	t := &tally{marked: make([]map[[2]int]*[64]uint64, parts)}
	for i := range t.marked {
		t.marked[i] = map[[2]int]*[64]uint64{}
	}
	return t
}

// mark notes a source cell and tells whether it is new.
func (t *tally) mark(f finding) bool {
	key := [2]int{f.col >> 6, f.row >> 6}
	bits := t.marked[f.part][key]
	if bits == nil {
		bits = new([64]uint64)
		t.marked[f.part][key] = bits
	}
	row, bit := f.row&63, uint64(1)<<(f.col&63)
	if bits[row]&bit != 0 {
		return false
	}
	bits[row] |= bit
	return true
}

// before orders findings by part, row and column.
func (f finding) before(g finding) bool {
	switch {
	case f.part != g.part:
		return f.part < g.part
	case f.row != g.row:
		return f.row < g.row
	}
	return f.col < g.col
}

// note adds findings to the tally, each source cell once.
func (r *Raster) note(reader *rasterReader, found []finding) error {
	r.tally.mu.Lock()
	defer r.tally.mu.Unlock()
	for _, f := range found {
		if !r.tally.mark(f) {
			continue
		}
		o := &r.tally.odd[f.kind]
		o.n++
		if o.n > 1 && !f.before(o.first) {
			continue
		}
		value, err := reader.number(r.parts[f.part], f)
		if err != nil {
			return err
		}
		o.first, o.value = f, value
	}
	return nil
}

// number reads the file's number of one source cell.
func (r *rasterReader) number(p *part, f finding) (float64, error) {
	one := raster.Window{Col: f.col, Row: f.row, Cols: 1, Rows: 1}
	for _, file := range p.tiles {
		if !file.at.Holds(one) {
			continue
		}
		x, known, err := r.single(file, one)
		if err != nil {
			return 0, r.source.readFailure(file, err)
		}
		if known {
			return x, nil
		}
	}
	return math.NaN(), nil
}

// single reads one cell of a file.
func (r *rasterReader) single(f *rasterFile, one raster.Window) (x float64, known bool, err error) {
	if err := r.fetch(f, one); err != nil {
		return 0, false, err
	}
	d := decoder{file: f}
	if f.masked {
		d.mask = r.raw.mask
	}
	switch f.form {
	case asFloat32:
		x = float64(r.raw.f32[0])
	case asFloat64:
		x = r.raw.f64[0]
	default:
		x = float64(r.raw.i32[0])
	}
	x, known = d.number(x, 0)
	return x, known, nil
}

// counts are sums over needed grid cells.
type counts struct {
	known, missing int64
	gaps           int64 // of the missing: their centre lies in no file
	low, high      float32
	few            [256]int64 // of codes 0 to 255
	many           map[int32]int64
}

// take counts the needed cells of a tile.
func (c *counts) take(t raster.Tile, need []bool) {
	if t.Codes != nil {
		c.takeCodes(t.Codes, need)
		return
	}
	low, high := float32(math.Inf(1)), float32(math.Inf(-1))
	missing, left := int64(0), int64(0)
	for i, v := range t.Values {
		switch {
		case need != nil && !need[i]:
			left++
		case v >= low && v <= high:
		case v != v:
			missing++
		default:
			low, high = min(low, v), max(high, v)
		}
	}
	c.span(int64(len(t.Values))-missing-left, low, high)
	c.missing += missing
}

// span adds known cells with their lowest and highest value.
func (c *counts) span(known int64, low, high float32) {
	if known == 0 {
		return
	}
	if c.known == 0 {
		c.low, c.high = low, high
	}
	c.known += known
	c.low, c.high = min(c.low, low), max(c.high, high)
}

// takeCodes counts run by run: neighbours are mostly of one class.
func (c *counts) takeCodes(codes []int32, need []bool) {
	for i := 0; i < len(codes); {
		from := i
		i += raster.Run(codes[i:])
		if n := needed(need, from, i); n > 0 {
			c.takeCode(codes[from], n)
		}
	}
}

// needed counts the marked cells of a run; nil marks all.
func needed(need []bool, from, end int) (n int64) {
	if need == nil {
		return int64(end - from)
	}
	for _, yes := range need[from:end] {
		if yes {
			n++
		}
	}
	return n
}

func (c *counts) takeCode(code int32, n int64) {
	switch {
	case code == raster.MissingCode:
		c.missing += n
		return
	case code >= 0 && int(code) < len(c.few):
		c.few[code] += n
	default:
		if c.many == nil {
			c.many = map[int32]int64{}
		}
		c.many[code] += n
	}
	c.known += n
}

// merge adds a reader's counts and empties them.
func (t *tally) merge(c *counts) {
	t.mu.Lock()
	defer t.mu.Unlock()
	all := &t.counts
	all.span(c.known, c.low, c.high)
	all.missing += c.missing
	all.gaps += c.gaps
	for i, n := range c.few {
		all.few[i] += n
	}
	for code, n := range c.many {
		if all.many == nil {
			all.many = map[int32]int64{}
		}
		all.many[code] += n
	}
	many := c.many
	clear(many)
	*c = counts{many: many}
}
