// Package remote keeps copies of maps that lie on the network, under http and
// https addresses, in a folder of this machine.
//
// An address is asked only where a [Store] is online. A map is fetched whole,
// with the rest of a broken transfer fetched later; its copy is kept with what
// tells one state of the map from another (its entity tag, date and size) and
// its SHA-256, and is asked about, not fetched, the next time. Of a large
// GeoTIFF in tiles only the pieces that are read are fetched, and kept. Without leave to
// go online, or without a network, the copy serves. Reading the copies is left
// to others. Sizes are in bytes, times in UTC.
//
// Nothing of the environment changes what is asked for: no proxy, cookie,
// login or certificate of the user's is used, and redirects stay with http and
// https, never from https to http. HTTP after RFC 9110: validators (section
// 8.8), conditional requests (section 13), ranges (section 14).
package remote

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"golang.org/x/sys/unix"
)

// Store is a folder of copies. Several processes may use one at a time.
type Store struct {
	Folder   string // made when needed
	Online   bool   // addresses may be asked
	Most     int64  // bytes of a map; 0: 16 GB
	Agent    string // how the program names itself to servers
	Progress func(address string, done, total int64)

	pause time.Duration // before the first of the tries that follow a failure; 0: a second
	stall time.Duration // after which a silent server is given up; 0: a minute

	wholeBelow int64 // bytes below which a map is fetched whole; 0: 64 MB
}

// mostBytes is the usual bound of a map's size.
const mostBytes = 16 << 30

// Copy is a map's copy on this machine.
type Copy struct {
	Kept
	File string // its path
	How  How
}

// How tells how a copy came to be used.
type How string

// The ways, in words for people.
const (
	Fetched   How = "fetched"
	Renewed   How = "fetched anew: the map has changed"
	Unchanged How = "kept copy; the server says that the map is the same"
	Unasked   How = "kept copy; the server was not asked"
	Unreached How = "kept copy; the server could not be reached"
)

// Kept is what is known of a map that was fetched.
type Kept struct {
	Address  string    `json:"address"`
	ETag     string    `json:"etag,omitempty"`          // entity tag; "" where the server gives none
	Modified string    `json:"last_modified,omitempty"` // as the server writes it
	Bytes    int64     `json:"bytes"`
	SHA256   string    `json:"sha256"`
	Fetched  time.Time `json:"fetched"`
	Stamp    time.Time `json:"stamp"`               // of the copy
	InPieces bool      `json:"in_pieces,omitempty"` // only what is read is fetched, and SHA256 is not known; see [Store.Open]
}

// Problem is an address, or a lack of leave, that must be changed.
type Problem struct {
	Address, What, Fix string
	Err                error // cause; may be nil
}

// Error says what is wrong with which address.
func (p *Problem) Error() string {
	if p.Err != nil {
		return fmt.Sprintf("%s: %s: %v", p.Address, p.What, p.Err)
	}
	return p.Address + ": " + p.What
}

// Remedy says what to do.
func (p *Problem) Remedy() string { return p.Fix }

// MustChange reports true: trying again cannot help.
func (p *Problem) MustChange() bool { return true }

// Unwrap returns the cause.
func (p *Problem) Unwrap() error { return p.Err }

// Unreachable is a server that could not be reached, or broke off; trying
// again may help.
type Unreachable struct {
	Address string
	Err     error
}

// Error says what happened.
func (u *Unreachable) Error() string {
	return fmt.Sprintf("%s: the server could not be reached, or broke off: %v", u.Address, plainCause(u.Err))
}

// Remedy says what to do.
func (u *Unreachable) Remedy() string {
	return "check the address and the connection, and try again; what has come so far is kept"
}

// Unwrap returns the cause.
func (u *Unreachable) Unwrap() error { return u.Err }

// plainCause leaves away what repeats the request.
func plainCause(err error) error {
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err
	}
	return err
}

// IsAddress tells whether a path of a plan is an address.
func IsAddress(path string) bool {
	lower := strings.ToLower(path)
	return strings.HasPrefix(lower, "http://") || strings.HasPrefix(lower, "https://")
}

// check refuses addresses that are none, or carry a login.
func check(address string) (*url.URL, error) {
	u, err := url.Parse(address)
	switch {
	case err != nil || u.Host == "" || u.Opaque != "":
		return nil, &Problem{Address: address, What: "this is no address", Fix: "write it like https://maps.example/soil.tif"}
	case u.User != nil:
		return nil, &Problem{Address: u.Redacted(), What: "the address carries a login", Fix: "fetch the map yourself and name the file"}
	}
	if strings.EqualFold(path.Ext(u.Path), ".shp") {
		return nil, &Problem{Address: address, What: "a shapefile is several files, and an address gives one", Fix: "name a zip of them, a GeoPackage or GeoJSON"}
	}
	return u, nil
}

// Get returns the copy of a map, which is fetched or asked about where the
// store is online.
//
// A [Problem] tells of an address without a copy and without leave to go
// online, one that is none or leads to no map, and a map that is too large; an
// [Unreachable] of a network that failed where there is no copy.
func (s *Store) Get(ctx context.Context, address string) (*Copy, error) {
	u, err := check(address)
	if err != nil {
		return nil, err
	}
	f := &fetch{store: s, address: address, dir: s.dirOf(address), name: nameOf(u)}
	kept, err := f.kept()
	if err != nil {
		return nil, err
	}
	if !s.Online {
		if kept == nil {
			return nil, &Problem{Address: address, What: "this map lies on the network, and there is no copy of it here", Fix: "say --online to let the program fetch it; later runs do with the copy"}
		}
		return &Copy{*kept, f.file(), Unasked}, nil
	}
	unlock, err := f.lock(ctx)
	if err != nil {
		return nil, err
	}
	defer unlock()
	if kept, err = f.kept(); err != nil { // another process may have been at it
		return nil, err
	}
	return f.renew(ctx, kept)
}

// dirOf is the folder of an address's copy.
func (s *Store) dirOf(address string) string {
	sum := sha256.Sum256([]byte(address))
	return filepath.Join(s.Folder, hex.EncodeToString(sum[:12]))
}

// nameOf is a plain name for the copy, with the ending that tells its format.
func nameOf(u *url.URL) string {
	name := strings.Map(func(r rune) rune {
		if r == '/' || r == '\\' || !unicode.IsPrint(r) {
			return '_'
		}
		return r
	}, path.Base(u.Path))
	name = strings.TrimLeft(name, ".")
	if name == "" || name == "_" {
		return "map"
	}
	if over := len(name) - 120; over > 0 {
		name = strings.ToValidUTF8(name[over:], "")
	}
	return name
}

// fetch is one address being asked for.
type fetch struct {
	store   *Store
	address string
	dir     string
	name    string
	client  *http.Client
}

func (f *fetch) file() string { return filepath.Join(f.dir, "map", f.name) }
func (f *fetch) part() string { return filepath.Join(f.dir, "part") }

// kept returns what is known of a copy that is there and whole; nil otherwise.
func (f *fetch) kept() (*Kept, error) {
	var k Kept
	if err := readJSON(filepath.Join(f.dir, "kept.json"), &k); err != nil || k.Address != f.address {
		return nil, err
	}
	info, err := os.Stat(f.file())
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil || info.Size() != k.Bytes || !k.InPieces && !info.ModTime().Equal(k.Stamp) {
		return nil, err // somebody has been at it
	}
	return &k, nil
}

// readJSON reads a small file of the store; one that is not there, or makes
// no sense, leaves v as it is.
func readJSON(file string, v any) error {
	data, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	_ = json.Unmarshal(data, v) // nonsense is as good as nothing
	return nil
}

// writeJSON writes a small file of the store, whole or not at all.
func writeJSON(file string, v any) error {
	data, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(file+".new", append(data, '\n'), 0o666); err != nil {
		return err
	}
	return os.Rename(file+".new", file)
}

// lock waits until no other process fetches the same.
func (f *fetch) lock(ctx context.Context) (unlock func(), err error) {
	if err := os.MkdirAll(filepath.Dir(f.file()), 0o777); err != nil {
		return nil, err
	}
	file, err := os.OpenFile(filepath.Join(f.dir, "lock"), os.O_RDWR|os.O_CREATE, 0o666)
	if err != nil {
		return nil, err
	}
	for {
		err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB)
		switch {
		case err == nil:
			return func() { file.Close() }, nil
		case ctx.Err() != nil:
			file.Close()
			return nil, context.Cause(ctx)
		case !errors.Is(err, unix.EWOULDBLOCK) && !errors.Is(err, unix.EINTR):
			file.Close()
			return nil, fmt.Errorf("take hold of %s: %w", file.Name(), err)
		}
		sleep(ctx, 100*time.Millisecond)
	}
}

// sleep waits, unless the context ends.
func sleep(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}
