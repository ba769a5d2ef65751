package remote

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
)

// tiff makes bytes that begin like a TIFF with one tag, and go on at random.
func tiff(order binary.AppendByteOrder, big bool, tag uint16, size int) []byte {
	var b []byte
	mark := "II"
	if order == binary.AppendByteOrder(binary.BigEndian) {
		mark = "MM"
	}
	b = append(b, mark...)
	if big {
		b = order.AppendUint16(b, 43)
		b = order.AppendUint16(b, 8)
		b = order.AppendUint16(b, 0)
		b = order.AppendUint64(b, 16)
		b = order.AppendUint64(b, 1)
	} else {
		b = order.AppendUint16(b, 42)
		b = order.AppendUint32(b, 8)
		b = order.AppendUint16(b, 1)
	}
	b = order.AppendUint16(b, tag)
	b = append(b, make([]byte, 100)...)
	r := rand.New(rand.NewPCG(1, 2))
	for len(b) < size {
		b = append(b, byte(r.Uint32()))
	}
	return b
}

// TIFF 6.0: tag 322 is TileWidth, 278 RowsPerStrip.
func TestTiled(t *testing.T) {
	for _, big := range []bool{false, true} {
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			if !tiled(tiff(order, big, 322, 1000)) || tiled(tiff(order, big, 278, 1000)) {
				t.Errorf("big %v, %v", big, order)
			}
			head := tiff(order, big, 322, 200)
			for n := range head {
				tiled(head[:n]) // no crash
			}
		}
	}
	if tiled([]byte(strings.Repeat("<html>", 100))) {
		t.Error("a page is tiled")
	}
}

func FuzzTiled(f *testing.F) {
	f.Add(tiff(binary.LittleEndian, false, 322, 200))
	f.Add(tiff(binary.BigEndian, true, 322, 200))
	f.Fuzz(func(t *testing.T, head []byte) { tiled(head) })
}

const inPiecesSize = 10*pieceSize + 1234

func large(online bool, dir string) *Store {
	s := quick(dir, online)
	s.wholeBelow = 1 << 20
	return s
}

// get returns the pieces of a map.
func (s *Store) get(t *testing.T, address string, how How) *Pieces {
	t.Helper()
	c, err := s.Get(context.Background(), address)
	if err != nil || !c.InPieces || c.How != how || c.Bytes != inPiecesSize {
		t.Fatalf("%+v, %v", c, err)
	}
	p, err := s.Open(context.Background(), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	return p
}

// Of a large map in tiles only what is read is fetched, each piece once and
// neighbours together; from then on it needs no network.
func TestPieces(t *testing.T) {
	data, dir := tiff(binary.LittleEndian, false, 322, inPiecesSize), t.TempDir()
	s := serve(t, tagged(`"1"`, string(data)))
	p := large(true, dir).get(t, s.URL+"/a.tif", Fetched)
	if s.count() != 1 || p.Size() != inPiecesSize {
		t.Error("more was asked than the head")
	}
	read := func(p *Pieces, off, n int64) {
		t.Helper()
		got := make([]byte, n)
		if _, err := p.ReadAt(got, off); err != nil || !bytes.Equal(got, data[off:off+n]) {
			t.Fatalf("%d at %d: %v", n, off, err)
		}
	}
	read(p, 3*pieceSize+5, 2*pieceSize)
	if n := s.count(); n != 1 {
		t.Errorf("three pieces were asked for in %d goes", n)
	}
	read(p, 4*pieceSize, 10)
	if n := s.count(); n != 0 {
		t.Errorf("a piece was asked for again")
	}
	read(p, inPiecesSize-7, 7)
	if n, err := p.ReadAt(make([]byte, 10), inPiecesSize-7); n != 7 || !errors.Is(err, io.EOF) {
		t.Error(n, err)
	}
	if n, err := p.ReadAt(make([]byte, 10), inPiecesSize); n != 0 || !errors.Is(err, io.EOF) {
		t.Error(n, err)
	}
	s.count()

	q := large(false, dir).get(t, s.URL+"/a.tif", Unasked)
	read(q, 3*pieceSize, 3*pieceSize)
	_, err := q.ReadAt(make([]byte, 10), 0)
	var problem *Problem
	if !errors.As(err, &problem) || !strings.Contains(problem.Fix, "--online") || q.Trouble() == nil || s.count() != 0 {
		t.Error(err)
	}
	if err := iotest.TestReader(io.NewSectionReader(large(true, dir).get(t, s.URL+"/a.tif", Unchanged), 0, 1000), data[:1000]); err != nil {
		t.Error(err)
	}
}

// Several read at a time.
func TestPiecesForSeveral(t *testing.T) {
	data := tiff(binary.LittleEndian, false, 322, inPiecesSize)
	s := serve(t, tagged(`"1"`, string(data)))
	p := large(true, t.TempDir()).get(t, s.URL+"/a.tif", Fetched)
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(uint64(i), 0))
			for range 50 {
				off, n := r.Int64N(inPiecesSize-1), r.Int64N(3*pieceSize)
				got := make([]byte, min(n, inPiecesSize-off))
				if _, err := p.ReadAt(got, off); err != nil || !bytes.Equal(got, data[off:off+int64(len(got))]) {
					t.Error(off, n, err)
				}
			}
		})
	}
	wg.Wait()
}

// A map that changes while it is read is no mixture, a broken answer is asked
// for again, and a piece that rotted on the disk is fetched anew.
func TestSpoiltPieces(t *testing.T) {
	data, dir := tiff(binary.LittleEndian, false, 322, inPiecesSize), t.TempDir()
	s := serve(t, tagged(`"1"`, string(data)))
	p := large(true, dir).get(t, s.URL+"/a.tif", Fetched)
	left := 2
	s.answer = func(w http.ResponseWriter, r *http.Request) {
		if left--; left >= 0 {
			tagged(`"1"`, string(data))(&cut{ResponseWriter: w, left: 1000}, r)
			return
		}
		tagged(`"1"`, string(data))(w, r)
	}
	got := make([]byte, pieceSize)
	if _, err := p.ReadAt(got, 0); err != nil || !bytes.Equal(got, data[:pieceSize]) {
		t.Fatal(err)
	}
	if err := os.WriteFile(p.data.Name(), bytes.Repeat([]byte{7}, inPiecesSize), 0o666); err != nil {
		t.Fatal(err)
	}
	again := large(true, dir).get(t, s.URL+"/a.tif", Unchanged)
	if _, err := again.ReadAt(got, 0); err != nil || !bytes.Equal(got, data[:pieceSize]) {
		t.Fatal("what rotted was read", err)
	}
	s.answer = tagged(`"2"`, string(data))
	_, err := p.ReadAt(got, 5*pieceSize)
	var problem *Problem
	if !errors.As(err, &problem) || !strings.Contains(problem.What, "changed while it was being read") {
		t.Error(err)
	}
	large(true, dir).get(t, s.URL+"/a.tif", Renewed)
	s.answer = func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(503) }
	var away *Unreachable
	if _, err := large(true, dir).get(t, s.URL+"/a.tif", Unreached).ReadAt(got, 0); !errors.As(err, &away) {
		t.Error(err)
	}
}

// A large map that is not in tiles, or from a server that gives no parts, or
// does not tell its state, is fetched whole.
func TestWholeAllTheSame(t *testing.T) {
	striped, inTiles := string(tiff(binary.LittleEndian, false, 278, inPiecesSize)), string(tiff(binary.LittleEndian, false, 322, inPiecesSize))
	noParts := func(w http.ResponseWriter, r *http.Request) {
		r.Header.Del("Range")
		tagged(`"1"`, inTiles)(&noRanges{w}, r)
	}
	for what, c := range map[string]struct {
		answer http.HandlerFunc
		text   string
	}{"striped": {tagged(`"1"`, striped), striped}, "no parts": {noParts, inTiles}} {
		s, store := serve(t, c.answer), large(true, t.TempDir())
		if c := store.must(t, s.URL+"/"+strings.ReplaceAll(what, " ", "-"), c.text, Fetched); c.InPieces {
			t.Errorf("%s: %+v", what, c)
		}
	}
}

// noRanges is an answer that does not offer parts.
type noRanges struct{ http.ResponseWriter }

func (n *noRanges) WriteHeader(code int) {
	n.Header().Del("Accept-Ranges")
	n.ResponseWriter.WriteHeader(code)
}
