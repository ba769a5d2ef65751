package cog

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// structure is the text that follows the header: what a reader may rely on
// (GDAL's COG driver documentation). The blocks of several bands stand in
// order of their number in the file, as they do here. The space at the end
// is room for YES.
const structure = "LAYOUT=IFDS_BEFORE_DATA\n" +
	"BLOCK_ORDER=ROW_MAJOR\n" +
	"BLOCK_LEADER=SIZE_AS_UINT4\n" +
	"BLOCK_TRAILER=LAST_4_BYTES_REPEATED\n" +
	"KNOWN_INCOMPATIBLE_EDITION=NO\n "

// Finish writes the whole file to out: header, directories from full
// resolution to the smallest overview, then blocks from the smallest
// overview to full resolution. It is for when all encoders are done, and
// returns an error that names the band when a cell was never put. It changes
// nothing, so it may be called again.
func (w *Writer) Finish(out io.Writer) error {
	if err := w.complete(); err != nil {
		return err
	}
	buffered := bufio.NewWriterSize(out, 1<<20)
	if _, err := buffered.Write(w.head()); err != nil {
		return fmt.Errorf("writing the GeoTIFF's directories: %w", err)
	}
	if err := w.sendBlocks(buffered); err != nil {
		return err
	}
	if err := buffered.Flush(); err != nil {
		return fmt.Errorf("writing the GeoTIFF: %w", err)
	}
	return nil
}

// head returns all that stands before the blocks.
func (w *Writer) head() []byte {
	big := w.layout.big
	b := w.headAs(big)
	if !big && int64(len(b))+w.dataSize() > math.MaxUint32 {
		return w.headAs(true)
	}
	return b
}

// headAs lays the head out twice: its length, which does not depend on where
// the blocks lie, says where they do.
func (w *Writer) headAs(big bool) []byte {
	at := make([][]int64, len(w.levels))
	for k := range at {
		at[k] = make([]int64, len(w.layout.Bands)*w.levels[k].blocks())
	}
	draft := w.layHead(at, big)
	w.placeBlocks(at, int64(len(draft)))
	return w.layHead(at, big)
}

func (w *Writer) layHead(at [][]int64, big bool) []byte {
	b := header(big)
	for k := range w.levels {
		d := w.directory(k, at[k], big)
		b = d.append(b, int64(len(b)), big, k == len(w.levels)-1)
	}
	return b
}

// header returns the first bytes of the file, up to the first directory.
func header(big bool) []byte {
	b := []byte{'I', 'I', 42, 0}
	size := int64(8)
	if big {
		b = []byte{'I', 'I', 43, 0, 8, 0, 0, 0}
		size = 16
	}
	note := fmt.Sprintf("GDAL_STRUCTURAL_METADATA_SIZE=%06d bytes\n", len(structure)) + structure
	first := even(size + int64(len(note)))
	b = appendOffset(b, first, big)
	b = append(b, note...)
	return append(b, make([]byte, first-int64(len(b)))...)
}

// eachBlock visits all blocks in the order they stand in the file.
func (w *Writer) eachBlock(visit func(level, number int, at place) error) error {
	for k := len(w.levels) - 1; k >= 0; k-- {
		number := 0
		for b := range w.planes[k] {
			for _, at := range w.planes[k][b].index {
				if err := visit(k, number, at); err != nil {
					return err
				}
				number++
			}
		}
	}
	return nil
}

// dataSize returns the bytes of all blocks with what stands round them.
func (w *Writer) dataSize() int64 {
	var n int64
	_ = w.eachBlock(func(_, _ int, at place) error { // never fails
		n += at.size + leaderAndTrailer
		return nil
	})
	return n
}

// placeBlocks notes where each block begins when the first leader stands at
// start.
func (w *Writer) placeBlocks(at [][]int64, start int64) {
	_ = w.eachBlock(func(level, number int, p place) error { // never fails
		at[level][number] = start + leaderAndTrailer/2
		start += p.size + leaderAndTrailer
		return nil
	})
}

// sizes returns the bytes of each block of a level, in order.
func (w *Writer) sizes(k int) []uint32 {
	out := make([]uint32, 0, len(w.layout.Bands)*w.levels[k].blocks())
	for b := range w.planes[k] {
		for _, at := range w.planes[k][b].index {
			out = append(out, uint32(at.size))
		}
	}
	return out
}

// sendBlocks copies all blocks from scratch, each between its size and its
// last four bytes.
func (w *Writer) sendBlocks(out *bufio.Writer) error {
	var buf []byte
	return w.eachBlock(func(_, _ int, at place) error {
		n := int(at.size)
		buf = append(buf[:0], make([]byte, n+leaderAndTrailer)...)
		binary.LittleEndian.PutUint32(buf, uint32(n))
		if err := w.scratch.read(at, buf[4:4+n]); err != nil {
			return err
		}
		copy(buf[4+n:], buf[n:4+n])
		if _, err := out.Write(buf); err != nil {
			return fmt.Errorf("writing the GeoTIFF's blocks: %w", err)
		}
		return nil
	})
}
