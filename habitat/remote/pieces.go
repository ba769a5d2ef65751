package remote

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// pieceSize is the size of the pieces in which a large map is fetched.
const pieceSize = 256 << 10

// mostAtOnce is how many of them are asked for at once.
const mostAtOnce = 32

// Pieces is a large map of which only those pieces are fetched that are read.
// They are kept: pieces read once need no network again. Any number of
// goroutines may read.
type Pieces struct {
	fetch *fetch
	known Kept

	mu      sync.Mutex
	ctx     context.Context
	data    *os.File       // as large as the map, with holes
	sums    *os.File       // a checksum a piece, 4 bytes each; 0 for one that is not there
	sound   map[int64]bool // pieces that are known to be there
	trouble error
}

// Open opens the pieces of a map for reading; the context ends what is being
// fetched. It is only for copies of which [Kept.InPieces] is true.
func (s *Store) Open(ctx context.Context, c *Copy) (*Pieces, error) {
	u, err := check(c.Address)
	if err != nil {
		return nil, err
	}
	f := &fetch{store: s, address: c.Address, dir: s.dirOf(c.Address), name: nameOf(u), client: newClient()}
	p := &Pieces{fetch: f, known: c.Kept, ctx: ctx, sound: map[int64]bool{}}
	if p.data, err = os.OpenFile(f.file(), os.O_RDWR, 0); err != nil {
		return nil, err
	}
	if p.sums, err = os.OpenFile(f.sums(), os.O_RDWR, 0); err != nil {
		return nil, errors.Join(err, p.data.Close())
	}
	return p, nil
}

func (f *fetch) sums() string { return filepath.Join(f.dir, "pieces") }

// Size returns the size of the map.
func (p *Pieces) Size() int64 { return p.known.Bytes }

// Trouble returns the last error of ReadAt; nil where there was none.
func (p *Pieces) Trouble() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.trouble
}

// Close frees the files.
func (p *Pieces) Close() error {
	p.fetch.client.CloseIdleConnections()
	return errors.Join(p.data.Close(), p.sums.Close())
}

// ReadAt reads a part of the map, fetching the pieces of it that are not
// there. Without leave to go online those are a [Problem].
func (p *Pieces) ReadAt(to []byte, off int64) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(to) == 0 {
		return 0, nil
	}
	n := min(int64(len(to)), p.known.Bytes-off)
	if off < 0 || n <= 0 {
		return 0, io.EOF
	}
	for first, last := off/pieceSize, (off+n-1)/pieceSize; first <= last; {
		run := int64(0) // of pieces that are not there, fetched at once
		for ; first+run <= last && run < mostAtOnce && !p.there(first+run); run++ {
		}
		if run > 0 {
			if err := p.bring(first, run); err != nil {
				p.trouble = err
				return 0, err
			}
		}
		first += max(run, 1)
	}
	if _, err := p.data.ReadAt(to[:n], off); err != nil {
		p.trouble = err
		return 0, err
	}
	if n < int64(len(to)) {
		return int(n), io.EOF
	}
	return int(n), nil
}

// span returns where a run of pieces begins and how long it is.
func (p *Pieces) span(first, run int64) (at, size int64) {
	at = first * pieceSize
	return at, min(run*pieceSize, p.known.Bytes-at)
}

// there tells whether a piece is there, and is what was fetched.
func (p *Pieces) there(piece int64) bool {
	if p.sound[piece] {
		return true
	}
	var sum [4]byte
	if _, err := p.sums.ReadAt(sum[:], 4*piece); err != nil || sum == [4]byte{} {
		return false
	}
	at, size := p.span(piece, 1)
	data := make([]byte, size)
	if _, err := p.data.ReadAt(data, at); err != nil {
		return false
	}
	p.sound[piece] = checksum(data) == sum
	return p.sound[piece]
}

// checksum is of a piece; never 0.
func checksum(data []byte) (out [4]byte) {
	binary.LittleEndian.PutUint32(out[:], crc32.ChecksumIEEE(data)|1)
	return out
}

// bring fetches a run of pieces.
func (p *Pieces) bring(first, run int64) error {
	at, size := p.span(first, run)
	if !p.fetch.store.Online {
		return &Problem{Address: p.known.Address, What: "the copy of this large map lacks the part that is read now", Fix: "say --online to let the program fetch it; later runs do with the copy"}
	}
	var data []byte
	pause := max(p.fetch.store.pause, time.Millisecond)
	if p.fetch.store.pause == 0 {
		pause = time.Second
	}
	for try := 1; ; try++ {
		var err error
		if data, err = p.ask(at, size); err == nil {
			break
		}
		if p.ctx.Err() != nil {
			return context.Cause(p.ctx)
		}
		if !p.fetch.maybe(err) {
			return err
		}
		if try == mostTries || hopeless(err) {
			return &Unreachable{p.known.Address, err}
		}
		sleep(p.ctx, pause)
		pause *= 2
	}
	return p.store(first, data)
}

// store writes pieces, and then that they are there.
func (p *Pieces) store(first int64, data []byte) error {
	if _, err := p.data.WriteAt(data, first*pieceSize); err != nil {
		return err
	}
	for i := int64(0); len(data) > 0; i++ {
		piece := data[:min(pieceSize, len(data))]
		data = data[len(piece):]
		sum := checksum(piece)
		if _, err := p.sums.WriteAt(sum[:], 4*(first+i)); err != nil {
			return err
		}
	}
	return nil
}

// ask asks the server for a part of the map.
func (p *Pieces) ask(at, size int64) ([]byte, error) {
	stall := p.fetch.store.stall
	if stall == 0 {
		stall = time.Minute
	}
	ctx, cancel := context.WithTimeoutCause(p.ctx, stall, errStall)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, p.known.Address, nil)
	if err != nil {
		return nil, err
	}
	r.Header.Set("User-Agent", p.fetch.store.Agent)
	r.Header.Set("Accept-Encoding", "identity")
	r.Header.Set("Range", fmt.Sprintf("bytes=%d-%d", at, at+size-1))
	answer, err := p.fetch.client.Do(r)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	said := stateOf(p.known.Address, answer)
	switch {
	case answer.StatusCode != http.StatusPartialContent && answer.StatusCode != http.StatusOK:
		return nil, refusal(p.known.Address, answer)
	case !p.known.same(&said) || said.Bytes != p.known.Bytes:
		return nil, &Problem{Address: p.known.Address, What: "the map on the server was changed while it was being read", Fix: "run again; what is kept of the old one is dropped then"}
	case answer.StatusCode == http.StatusOK || !continues(answer, at):
		return nil, errors.New("the server does not give a part of the map")
	}
	data := make([]byte, size)
	if _, err := io.ReadFull(answer.Body, data); err != nil {
		return nil, err
	}
	return data, nil
}

// wholeBelow is the size below which maps are fetched whole.
const wholeBelow = 64 << 20

// headSize is how much of a map is looked at to see how it is laid out.
const headSize = 64 << 10

// inPieces looks at the head of a map that is about to come. A large GeoTIFF in
// tiles, from a server that gives parts, is kept in pieces; nil for others,
// whose answer then begins anew with what was looked at.
func (f *fetch) inPieces(answer *http.Response, said Kept) (*Kept, error) {
	least := f.store.wholeBelow
	if least == 0 {
		least = wholeBelow
	}
	if said.Bytes < least || answer.Header.Get("Accept-Ranges") != "bytes" || said.ETag == "" && said.Modified == "" {
		return nil, nil
	}
	head := make([]byte, min(headSize, said.Bytes))
	n, err := io.ReadFull(answer.Body, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, err
	}
	if !tiled(head[:n]) {
		answer.Body = &rejoined{head[:n], answer.Body}
		return nil, nil
	}
	said.InPieces, said.Fetched = true, time.Now().UTC().Truncate(time.Second)
	return &said, f.layOut(said)
}

// layOut makes the empty files of a map in pieces.
func (f *fetch) layOut(said Kept) error {
	for _, file := range []struct {
		path string
		size int64
	}{{f.file(), said.Bytes}, {f.sums(), (said.Bytes + pieceSize - 1) / pieceSize * 4}} {
		fresh := file.path + ".new" // others may be reading the old one
		if err := errors.Join(os.WriteFile(fresh, nil, 0o666), os.Truncate(fresh, file.size)); err != nil {
			return err
		}
		if err := os.Rename(fresh, file.path); err != nil {
			return err
		}
	}
	return writeJSON(filepath.Join(f.dir, "kept.json"), said)
}

// rejoined is a body of which some was read already.
type rejoined struct {
	head []byte
	io.ReadCloser
}

func (r *rejoined) Read(p []byte) (int, error) {
	if len(r.head) > 0 {
		n := copy(p, r.head)
		r.head = r.head[n:]
		return n, nil
	}
	return r.ReadCloser.Read(p)
}

// tiled tells whether the head of a file is that of a TIFF in tiles whose
// first directory lies in it, as it does in a Cloud-Optimized GeoTIFF. TIFF
// 6.0 (Adobe 1992), tag 322; BigTIFF has 8-byte offsets.
func tiled(head []byte) bool {
	if len(head) < 16 {
		return false
	}
	var order binary.ByteOrder = binary.LittleEndian
	if string(head[:2]) == "MM" {
		order = binary.BigEndian
	} else if string(head[:2]) != "II" {
		return false
	}
	at, count, entry := uint64(0), uint64(0), uint64(12)
	switch order.Uint16(head[2:]) {
	case 42:
		if at = uint64(order.Uint32(head[4:])); at+2 > uint64(len(head)) {
			return false
		}
		count, at = uint64(order.Uint16(head[at:])), at+2
	case 43:
		if at = order.Uint64(head[8:]); at > uint64(len(head)) || at+8 > uint64(len(head)) {
			return false
		}
		count, at, entry = order.Uint64(head[at:]), at+8, 20
	default:
		return false
	}
	for ; count > 0 && at+entry <= uint64(len(head)); count, at = count-1, at+entry {
		if order.Uint16(head[at:]) == 322 {
			return true
		}
	}
	return false
}
