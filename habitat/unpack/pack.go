package unpack

import (
	"archive/tar"
	"archive/zip"
	"compress/gzip"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"strings"
)

// pack is an open archive. Its members can be walked any number of times.
type pack struct {
	name   string
	ending string
	file   *os.File
	size   int64 // of the archive

	most, room  int64
	done, total int64 // bytes unpacked
	progress    func(done, total int64)
}

// opening gives the bytes of a member while it is being visited.
type opening func() (io.Reader, error)

// visit is told each member in turn.
type visit func(m member, open opening) error

func openPack(name string, o Options) (*pack, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	info, err := file.Stat()
	if err != nil {
		file.Close()
		return nil, err
	}
	p := &pack{name: name, ending: Ending(name), file: file, size: info.Size(), most: o.Most, room: o.Room, progress: o.Progress}
	if p.most <= 0 {
		p.most = min(max(p.size, 0), mostBytes/mostGrowth) * mostGrowth
		p.most = max(p.most, alwaysAllowed)
	}
	return p, nil
}

func (p *pack) close() { p.file.Close() }

// each visits the members, in the archive's order.
func (p *pack) each(ctx context.Context, v visit) error {
	if _, err := p.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	from := io.Reader(stoppable{ctx, p.file})
	switch p.ending {
	case ".zip":
		return p.eachZipped(ctx, v)
	case ".tar":
		return p.eachOfTar(from, v)
	case ".gz":
		return p.theGzipped(from, v)
	}
	z, err := gzip.NewReader(from)
	if err != nil {
		return p.notOne("gzip", err)
	}
	return p.eachOfTar(&bounded{z, p, p.most + p.most/8 + 1<<20}, v) // the headers of tar need some room too
}

// notOne tells of a file that is no archive of its ending's kind.
func (p *pack) notOne(what string, err error) error {
	for _, cause := range []error{gzip.ErrHeader, zip.ErrFormat, tar.ErrHeader, io.EOF, io.ErrUnexpectedEOF} {
		if errors.Is(err, cause) {
			return p.problem(fmt.Sprintf("this is no %s archive, whatever its name says", what), "look what the file is, and fetch it again if it is cut short")
		}
	}
	return err
}

// mostDirectory is the size of the list of members of a zip up to which it is
// read; each takes memory.
const mostDirectory = 64 << 20

func (p *pack) eachZipped(ctx context.Context, v visit) error {
	n, err := directorySize(p.file, p.size)
	if err != nil {
		return p.notOne("zip", err)
	}
	if n > mostDirectory {
		return p.problem("its list of files is too long", "unpack it yourself and name the maps")
	}
	z, err := zip.NewReader(p.file, p.size)
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		return p.notOne("zip", err)
	}
	for _, f := range z.File {
		if ctx.Err() != nil {
			return errors.Join(errStopped, context.Cause(ctx))
		}
		if err := v(zipMember(f), func() (io.Reader, error) { return p.openZipped(f) }); err != nil {
			return err
		}
	}
	return nil
}

func zipMember(f *zip.File) member {
	m := member{name: f.Name, size: -1}
	if f.UncompressedSize64 < 1<<62 {
		m.size = int64(f.UncompressedSize64)
	} else {
		m.size = 1 << 62 // beyond any bound
	}
	if !f.Mode().IsRegular() {
		m.kind = otherKind
	}
	return m
}

func (p *pack) openZipped(f *zip.File) (io.Reader, error) {
	if f.Flags&1 != 0 {
		return nil, p.problem(fmt.Sprintf("%q is locked with a password", f.Name), "unpack it yourself and name the map")
	}
	in, err := f.Open()
	if errors.Is(err, zip.ErrAlgorithm) {
		return nil, p.problem(fmt.Sprintf("%q is packed in a way that is not read here (method %d)", f.Name, f.Method), "unpack it yourself and name the map, or pack it anew by deflate")
	}
	return in, err
}

// directorySize returns the size of a zip's list of members, as its end
// declares it, so that a list too long is refused before it is read.
func directorySize(file io.ReaderAt, size int64) (uint64, error) {
	n := min(size, 22+0xffff)
	tail := make([]byte, n)
	if _, err := file.ReadAt(tail, size-n); err != nil && !errors.Is(err, io.EOF) {
		return 0, err
	}
	for i := len(tail) - 22; i >= 0; i-- {
		if string(tail[i:i+4]) != "PK\x05\x06" {
			continue
		}
		declared := uint64(binary.LittleEndian.Uint32(tail[i+12:]))
		if declared != 0xffffffff || i < 20 || string(tail[i-20:i-16]) != "PK\x06\x07" {
			return declared, nil
		}
		return wideDirectorySize(file, int64(binary.LittleEndian.Uint64(tail[i-12:])))
	}
	return 0, zip.ErrFormat
}

// wideDirectorySize reads the same from the record of large archives.
func wideDirectorySize(file io.ReaderAt, at int64) (uint64, error) {
	record := make([]byte, 56)
	if at < 0 {
		return 0, zip.ErrFormat
	}
	if _, err := file.ReadAt(record, at); err != nil || string(record[:4]) != "PK\x06\x06" {
		return 0, zip.ErrFormat
	}
	return binary.LittleEndian.Uint64(record[40:]), nil
}

func (p *pack) eachOfTar(from io.Reader, v visit) error {
	t := tar.NewReader(from)
	for first := true; ; first = false {
		h, err := t.Next()
		switch {
		case errors.Is(err, io.EOF) && !first:
			return nil
		case errors.Is(err, io.EOF), first && err != nil:
			return p.notOne("tar", err)
		case err != nil && !errors.Is(err, tar.ErrInsecurePath):
			return err
		}
		m := member{name: strings.TrimPrefix(path.Clean(h.Name), "./"), size: h.Size}
		if h.Typeflag != tar.TypeReg {
			m.kind = otherKind
		}
		if err := v(m, func() (io.Reader, error) { return t, nil }); err != nil {
			return err
		}
	}
}

// theGzipped visits the one file of a gzip, named as the archive without its
// ending, whatever its header says.
func (p *pack) theGzipped(from io.Reader, v visit) error {
	z, err := gzip.NewReader(from)
	if err != nil {
		return p.notOne("gzip", err)
	}
	base := filepath.Base(p.name)
	return v(member{name: base[:len(base)-len(".gz")], size: -1}, func() (io.Reader, error) { return z, nil })
}

// stoppable is a reader that ends with its context.
type stoppable struct {
	ctx context.Context
	in  io.Reader
}

func (s stoppable) Read(b []byte) (int, error) {
	if s.ctx.Err() != nil {
		return 0, errors.Join(errStopped, context.Cause(s.ctx))
	}
	return s.in.Read(b)
}

// bounded is a reader that ends with the archive's bound.
type bounded struct {
	in   io.Reader
	pack *pack
	left int64
}

func (b *bounded) Read(p []byte) (int, error) {
	n, err := b.in.Read(p)
	if b.left -= int64(n); b.left < 0 {
		return 0, b.pack.tooMuch()
	}
	return n, err
}
