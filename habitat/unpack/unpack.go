// Package unpack brings maps out of archives, so that a plan can name a map
// by the way into a zip, tar or gzip file: soil.zip, tiles.zip/part/a.tif,
// "tiles.zip/*.tif", height.tif.gz.
//
// Members are written once into a folder of the caller's: reading cells here
// and there out of a packed stream would unpack it from the start each time.
// With a map come the files beside it in the archive that bear its name (.prj,
// .dbf, .aux.xml …), below a virtual raster or a folder that is one map
// everything. Opening what was unpacked, and hashing the archive, is left to
// the caller; nothing is ever written beside the archive.
//
// Archives are foreign bytes: what they declare is held against a bound before
// anything is written, what they hold against what they declare while it is,
// and only plain files with plain names below the folder are made. Sizes are
// in bytes. Formats: ZIP (stored and deflate), tar (ustar and pax), gzip
// (RFC 1952), as Go's standard library reads them.
package unpack

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/sys/unix"
)

// Bounds of what an archive may come to.
const (
	alwaysAllowed = 1 << 30  // bytes that any archive may unpack to
	mostGrowth    = 200      // times its own size that a larger one may
	mostBytes     = 64 << 30 // and no archive more
	mostMembers   = 200_000
	deepestMember = 32 // folders
)

// Options say how maps are unpacked. The zero value is usable.
type Options struct {
	Most     int64                   // bytes that may be unpacked; 0: as much as the archive's size makes likely
	Room     int64                   // bytes that may be used of the folder's disk; 0: what is free but for a rest
	Progress func(done, total int64) // in bytes; total 0: not known; may be nil
}

// Problem is an archive, or a way into one, that must be changed.
type Problem struct {
	Archive string
	What    string
	Fix     string
	Err     error // cause; may be nil
}

// Error says what is wrong with which archive.
func (p *Problem) Error() string {
	if p.Err != nil {
		return fmt.Sprintf("%s: %s: %v", p.Archive, p.What, p.Err)
	}
	return p.Archive + ": " + p.What
}

// Remedy says what to do.
func (p *Problem) Remedy() string { return p.Fix }

// MustChange reports true: trying again cannot help.
func (p *Problem) MustChange() bool { return true }

// Unwrap returns the cause.
func (p *Problem) Unwrap() error { return p.Err }

// Shortage is a disk without room for what an archive holds.
type Shortage struct {
	Archive    string
	Need, Room int64
}

// Error says what is short.
func (s *Shortage) Error() string {
	return fmt.Sprintf("%s: unpacked it takes %d MB, but the disk for scratch files has %d MB to spare", s.Archive, s.Need>>20, s.Room>>20)
}

// Remedy says what to do.
func (s *Shortage) Remedy() string { return "make room, or name another disk with --scratch" }

// endings are those of archives; the first that fits counts.
var endings = []string{".tar.gz", ".tgz", ".tar", ".zip", ".gz"}

// Ending returns the ending by which a name is taken for an archive's, in
// small letters; "" for other names.
func Ending(name string) string {
	lower := strings.ToLower(name)
	for _, end := range endings {
		if strings.HasSuffix(lower, end) && len(lower) > len(end) {
			return end
		}
	}
	return ""
}

// Split finds the archive in a path: its first part that is a file with the
// ending of an archive. member is the rest of the path, "" where there is
// none; ok tells whether there is an archive.
func Split(name string) (archive, member string, ok bool) {
	for at := 1; at <= len(name); at++ {
		if at < len(name) && name[at] != '/' {
			continue
		}
		if Ending(name[:at]) == "" {
			continue
		}
		if info, err := os.Stat(name[:at]); err == nil && info.Mode().IsRegular() {
			return name[:at], strings.Trim(name[at:], "/"), true
		}
	}
	return "", "", false
}

// Maps unpacks into a folder the maps that a way into an archive names, and
// returns their names within the archive, each of which is then a file, or a
// folder that is one map, below into. member "" asks for the archive's only
// map; the name of a folder for the only one in it; a pattern such as *.tif
// for all that match it, sorted by name.
//
// A [Problem] tells of an archive that is none, is damaged or locked, holds
// too much, several maps or not the one that is named; a [Shortage] of a disk
// without room. Files made before an error stay for the caller to remove.
func Maps(ctx context.Context, archive, member, into string, o Options) ([]string, error) {
	if member != "" {
		member = path.Clean(member)
	}
	p, err := openPack(archive, o)
	if err != nil {
		return nil, err
	}
	defer p.close()
	members, err := p.list(ctx)
	if err != nil {
		return nil, p.told(err)
	}
	if err := p.findRoom(into); err != nil {
		return nil, err
	}
	names, err := p.choose(members, member)
	if err != nil {
		return nil, err
	}
	wanted := withSides(members, names)
	if err := p.fits(members, wanted); err != nil {
		return nil, err
	}
	return names, p.told(p.write(ctx, wanted, into))
}

// told makes of an error what a caller can act on: what the system could not
// do stays as it is, the rest is the archive's fault.
func (p *pack) told(err error) error {
	var known *Problem
	var short *Shortage
	var system *fs.PathError
	switch {
	case err == nil, errors.As(err, &known), errors.As(err, &short), errors.As(err, &system),
		errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded), errors.Is(err, errStopped):
		return err
	}
	return &Problem{Archive: p.name, What: "the archive is damaged or cut short", Fix: "fetch it again and compare its size with the original", Err: err}
}

// errStopped is the cause of an end that the context asked for.
var errStopped = errors.New("unpacking was stopped")

// problem makes a Problem of this archive.
func (p *pack) problem(what, fix string) *Problem {
	return &Problem{Archive: p.name, What: what, Fix: fix}
}

// list returns the members that are plain files.
func (p *pack) list(ctx context.Context) ([]member, error) {
	var out []member
	err := p.each(ctx, func(m member, _ opening) error {
		if len(out) == mostMembers {
			return p.problem(fmt.Sprintf("the archive holds more than %d files", mostMembers), "unpack it yourself and name the maps")
		}
		if m.plain() {
			out = append(out, m)
		}
		return nil
	})
	return out, err
}

// spared is what is left of the disk, at least.
const spared = 256 << 20

// findRoom makes the folder and finds out what its disk can take.
func (p *pack) findRoom(into string) error {
	if err := os.MkdirAll(into, 0o777); err != nil || p.room > 0 {
		return err
	}
	var s unix.Statfs_t
	if err := unix.Statfs(into, &s); err != nil {
		return &fs.PathError{Op: "ask for the free space of", Path: into, Err: err}
	}
	p.room = int64(s.Bavail)*s.Bsize - spared
	return nil
}

// fits holds what the wanted members declare against the bounds.
func (p *pack) fits(members []member, wanted map[string]bool) error {
	var sum int64
	seen := map[string]bool{}
	for _, m := range members {
		if !wanted[m.name] {
			continue
		}
		if seen[m.name] {
			return p.problem(fmt.Sprintf("the archive holds two files %q", m.name), "unpack it yourself and name the right one")
		}
		seen[m.name] = true
		if m.size > p.most || sum+m.size > p.most {
			return p.tooMuch()
		}
		sum += max(m.size, 0)
	}
	if sum > p.room {
		return &Shortage{p.name, sum, p.room}
	}
	p.total = sum
	return nil
}

func (p *pack) tooMuch() *Problem {
	return p.problem(fmt.Sprintf("the archive of %d kB unpacks to more than %d MB, which looks like a trap", p.size>>10, p.most>>20),
		"if the map is really so large, unpack the archive yourself and name the map")
}

// write unpacks the wanted members.
func (p *pack) write(ctx context.Context, wanted map[string]bool, into string) error {
	return p.each(ctx, func(m member, open opening) error {
		if !wanted[m.name] || !m.plain() {
			return nil
		}
		in, err := open()
		if err != nil {
			return err
		}
		target := filepath.Join(into, filepath.FromSlash(m.name))
		if err := os.MkdirAll(filepath.Dir(target), 0o777); err != nil {
			return err
		}
		return p.copy(ctx, target, in, m)
	})
}

// copy writes one member to a new file, no more than the archive may come to.
func (p *pack) copy(ctx context.Context, target string, in io.Reader, m member) (err error) {
	out, err := os.OpenFile(target, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, out.Close()) }()
	var sum int64
	buffer := make([]byte, 1<<18)
	for {
		if ctx.Err() != nil {
			return errors.Join(errStopped, context.Cause(ctx))
		}
		n, end := in.Read(buffer)
		sum, p.done = sum+int64(n), p.done+int64(n)
		switch {
		case p.done > p.most:
			return p.tooMuch()
		case p.done > p.room:
			return &Shortage{p.name, p.done, p.room}
		}
		if _, err := out.Write(buffer[:n]); err != nil {
			return err
		}
		if p.progress != nil {
			p.progress(p.done, p.total)
		}
		if errors.Is(end, io.EOF) {
			break
		}
		if end != nil {
			return end
		}
	}
	if m.size >= 0 && sum != m.size {
		return io.ErrUnexpectedEOF
	}
	return nil
}

// choose returns the names of the maps that a way into the archive asks for.
func (p *pack) choose(members []member, asked string) ([]string, error) {
	all := mapsAmong(members)
	for _, m := range members {
		if m.name == asked {
			return []string{asked}, nil
		}
	}
	if slices.Contains(all, asked) { // a folder that is one map
		return []string{asked}, nil
	}
	if strings.ContainsAny(asked, "*?[") {
		return p.matching(all, asked)
	}
	within := slices.DeleteFunc(slices.Clone(all), func(name string) bool { return asked != "" && !strings.HasPrefix(name, asked+"/") })
	switch {
	case len(within) == 1:
		return within, nil
	case len(within) > 1:
		return nil, p.problem(fmt.Sprintf("it holds %d maps", len(within)), "say which one: "+p.ways(within)+p.orAll(within))
	case asked == "" && len(members) == 1:
		return []string{members[0].name}, nil
	case asked == "" || len(all) == 0:
		return nil, p.problem("it holds no map that is known by its ending", "name the file within the archive, such as "+p.wayOf("folder/map.tif"))
	}
	return nil, p.problem(fmt.Sprintf("it holds no %q", asked), "the maps in it: "+p.ways(all))
}

// orAll offers the pattern that matches all maps, where there is one.
func (p *pack) orAll(names []string) string {
	pattern := path.Join(path.Dir(names[0]), "*"+path.Ext(names[0]))
	for _, n := range names {
		if fit, err := path.Match(pattern, n); err != nil || !fit {
			return ""
		}
	}
	return "; or all of them as one map: " + p.wayOf(pattern)
}

func (p *pack) matching(all []string, pattern string) ([]string, error) {
	var out []string
	for _, name := range all {
		if fit, err := path.Match(pattern, name); err == nil && fit {
			out = append(out, name)
		}
	}
	if len(out) == 0 {
		return nil, p.problem(fmt.Sprintf("no map in it matches %q", pattern), "the maps in it: "+p.ways(all))
	}
	slices.Sort(out)
	return out, nil
}

// ways lists some names as a plan would write them.
func (p *pack) ways(names []string) string {
	const most = 8
	var out []string
	for i, n := range names {
		if i == most {
			out = append(out, fmt.Sprintf("and %d more", len(names)-most))
			break
		}
		out = append(out, p.wayOf(n))
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, ", ")
}

func (p *pack) wayOf(name string) string { return path.Join(filepath.Base(p.name), name) }
