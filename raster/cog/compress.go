package cog

import (
	"bytes"
	"fmt"
	"io"

	"github.com/klauspost/compress/zlib"
	"github.com/klauspost/compress/zstd"
)

// coder compresses one block at a time. It is not for two goroutines. The
// result is good until the next call and depends on src alone.
type coder interface {
	code(src []byte) ([]byte, error)
}

func defaultLevel(c Compression) int {
	if c == Zstd {
		return 3
	}
	return 6
}

func checkLevel(c Compression, level int) error {
	var most int
	switch c {
	case Deflate:
		most = 9
	case Zstd:
		most = 22
	default:
		return fmt.Errorf("no such compression: %d", c)
	}
	if level < 1 || level > most {
		return fmt.Errorf("no such compression level: %d; 1 to %d can be had", level, most)
	}
	return nil
}

// number is the TIFF code of the compression.
func (c Compression) number() uint16 {
	if c == Zstd {
		return 50000
	}
	return 8
}

func newCoder(c Compression, level int) (coder, error) {
	if c == Zstd {
		z, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderCRC(false),
			zstd.WithEncoderLevel(zstd.EncoderLevelFromZstd(level)))
		return &zstdCoder{z: z}, err
	}
	z, err := zlib.NewWriterLevel(io.Discard, level)
	return &deflateCoder{z: z}, err
}

type deflateCoder struct {
	z   *zlib.Writer
	out bytes.Buffer
}

func (c *deflateCoder) code(src []byte) ([]byte, error) {
	c.out.Reset()
	c.z.Reset(&c.out)
	if _, err := c.z.Write(src); err != nil {
		return nil, err
	}
	err := c.z.Close()
	return c.out.Bytes(), err
}

type zstdCoder struct {
	z   *zstd.Encoder
	out []byte
}

func (c *zstdCoder) code(src []byte) ([]byte, error) {
	c.out = c.z.EncodeAll(src, c.out[:0])
	return c.out, nil
}
