package remote

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// mostTries is how often a server that fails is asked, without anything new
// coming.
const mostTries = 4

// newClient returns a client that brings nothing of the user's along.
func newClient() *http.Client {
	dial := &net.Dialer{Timeout: 15 * time.Second}
	return &http.Client{
		Transport: &http.Transport{
			Proxy: nil, DialContext: dial.DialContext, DisableCompression: true, ForceAttemptHTTP2: true,
			TLSHandshakeTimeout: 15 * time.Second, ResponseHeaderTimeout: 60 * time.Second, MaxResponseHeaderBytes: 1 << 20,
		},
		CheckRedirect: mayFollow,
	}
}

// mayFollow allows a few redirects, within http and https and never from the
// one that is sealed to the one that is not.
func mayFollow(to *http.Request, before []*http.Request) error {
	from := before[len(before)-1].URL
	switch {
	case len(before) > 5:
		return &Problem{Address: before[0].URL.Redacted(), What: "the server sends round from one address to the next", Fix: "find the map's own address"}
	case to.URL.Scheme != "http" && to.URL.Scheme != "https", from.Scheme == "https" && to.URL.Scheme == "http", to.URL.User != nil:
		return &Problem{Address: before[0].URL.Redacted(), What: "the server sends on to " + to.URL.Redacted() + ", which is not followed", Fix: "find the map's own address"}
	}
	to.Header.Del("Referer")
	return nil
}

// renew asks the server and returns the copy, new or old.
func (f *fetch) renew(ctx context.Context, kept *Kept) (*Copy, error) {
	f.client = newClient()
	defer f.client.CloseIdleConnections()
	fresh, err := f.persist(ctx, kept)
	var away *Unreachable
	switch {
	case err == nil && fresh == nil:
		return &Copy{*kept, f.file(), Unchanged}, nil
	case err == nil && kept != nil && (fresh.InPieces || kept.SHA256 != fresh.SHA256):
		return &Copy{*fresh, f.file(), Renewed}, nil
	case err == nil:
		return &Copy{*fresh, f.file(), Fetched}, nil
	case ctx.Err() != nil:
		return nil, context.Cause(ctx)
	case errors.As(err, &away) && kept != nil:
		return &Copy{*kept, f.file(), Unreached}, nil
	}
	var p *Problem
	if errors.As(err, &p) && kept != nil {
		p.Fix += "; without --online the copy of " + kept.Fetched.Format(time.DateOnly) + " is used"
	}
	return nil, err
}

// persist tries until the map is there or nothing new comes; nil for one that
// is as it was.
func (f *fetch) persist(ctx context.Context, kept *Kept) (*Kept, error) {
	pause := f.store.pause
	if pause == 0 {
		pause = time.Second
	}
	for try := 1; ; try++ {
		before := f.come()
		fresh, err := f.once(ctx, kept)
		if err == nil || ctx.Err() != nil || !f.maybe(err) {
			return fresh, err
		}
		if f.come() > before {
			try, pause = 0, min(pause, 10*time.Second)
		}
		if try >= mostTries || hopeless(err) {
			return nil, &Unreachable{f.address, err}
		}
		sleep(ctx, pause)
		pause *= 2
	}
}

// come is how much of the map has come.
func (f *fetch) come() int64 {
	info, err := os.Stat(f.part())
	if err != nil {
		return 0
	}
	return info.Size()
}

// maybe tells whether another try may do better.
func (f *fetch) maybe(err error) bool {
	var p *Problem
	var system *fs.PathError
	return !errors.As(err, &p) && !errors.As(err, &system)
}

// hopeless tells of failures that do not pass within seconds.
func hopeless(err error) bool {
	var name *net.DNSError
	return errors.As(err, &name) && name.IsNotFound || errors.Is(err, unix.ECONNREFUSED) || strings.Contains(err.Error(), "x509:")
}

// once asks one time.
func (f *fetch) once(ctx context.Context, kept *Kept) (*Kept, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var begun Kept // the part of a map that came before
	if err := readJSON(f.part()+".json", &begun); err != nil {
		return nil, err
	}
	have := f.come()
	request, err := f.request(ctx, kept, &begun, have)
	if err != nil {
		return nil, err
	}
	answer, err := f.client.Do(request)
	if err != nil {
		var p *Problem
		if errors.As(err, &p) {
			return nil, p
		}
		return nil, err
	}
	defer answer.Body.Close()
	switch said := stateOf(f.address, answer); {
	case answer.StatusCode == http.StatusNotModified && kept != nil:
		return nil, nil
	case answer.StatusCode == http.StatusRequestedRangeNotSatisfiable:
		return nil, errors.Join(errOtherPart, os.Remove(f.part()))
	case answer.StatusCode == http.StatusPartialContent:
		if !begun.same(&said) || !continues(answer, have) {
			return nil, errors.Join(errOtherPart, os.Remove(f.part()))
		}
		return f.take(ctx, cancel, answer, said, have)
	case answer.StatusCode == http.StatusOK:
		if kept != nil && kept.same(&said) && kept.Bytes == said.Bytes {
			return nil, nil // it answers, but knows no conditions
		}
		if laid, err := f.inPieces(answer, said); laid != nil || err != nil {
			return laid, err
		}
		return f.take(ctx, cancel, answer, said, 0)
	default:
		return nil, refusal(f.address, answer)
	}
}

var errOtherPart = errors.New("the server has another map now")

// request asks for the map unless it is the one that is kept, or for the rest
// of one that has begun.
func (f *fetch) request(ctx context.Context, kept, begun *Kept, have int64) (*http.Request, error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, f.address, nil)
	if err != nil {
		return nil, err
	}
	r.Header.Set("User-Agent", f.store.Agent)
	r.Header.Set("Accept-Encoding", "identity")
	strong := begun.ETag != "" && !strings.HasPrefix(begun.ETag, "W/")
	switch {
	case have > 0 && begun.Address == f.address && (strong || begun.Modified != ""):
		r.Header.Set("Range", fmt.Sprintf("bytes=%d-", have))
		if strong {
			r.Header.Set("If-Range", begun.ETag)
		} else {
			r.Header.Set("If-Range", begun.Modified)
		}
	case kept != nil && kept.ETag != "":
		r.Header.Set("If-None-Match", kept.ETag)
	case kept != nil && kept.Modified != "":
		r.Header.Set("If-Modified-Since", kept.Modified)
	}
	return r, nil
}

// stateOf reads what tells this state of the map from another.
func stateOf(address string, answer *http.Response) Kept {
	k := Kept{Address: address, ETag: answer.Header.Get("ETag"), Modified: answer.Header.Get("Last-Modified"), Bytes: answer.ContentLength}
	if _, total, ok := strings.Cut(answer.Header.Get("Content-Range"), "/"); ok {
		if n, err := strconv.ParseInt(total, 10, 64); err == nil {
			k.Bytes = n
		}
	}
	return k
}

// same tells whether two answers tell of one state of the map. Without tag and
// date nothing can be told.
func (k *Kept) same(other *Kept) bool {
	if k.ETag != "" || other.ETag != "" {
		return k.ETag == other.ETag
	}
	return k.Modified != "" && k.Modified == other.Modified
}

// continues tells whether a partial answer begins where it should.
func continues(answer *http.Response, at int64) bool {
	return strings.HasPrefix(answer.Header.Get("Content-Range"), fmt.Sprintf("bytes %d-", at))
}

// refusal is an answer that brings no map. What may pass is no Problem.
func refusal(address string, answer *http.Response) error {
	p := &Problem{Address: address, What: "the server answers " + answer.Status, Fix: "correct the address"}
	switch code := answer.StatusCode; {
	case code == http.StatusNotFound || code == http.StatusGone:
		p.What = fmt.Sprintf("the server has no such map (%s)", answer.Status)
	case code == http.StatusUnauthorized || code == http.StatusForbidden || code == http.StatusProxyAuthRequired:
		p.What, p.Fix = fmt.Sprintf("the server does not give the map to everybody (%s)", answer.Status), "fetch it yourself, with your own login, and name the file"
	case code >= 500 || code == http.StatusTooManyRequests || code == http.StatusRequestTimeout:
		return errors.New("the server answers " + answer.Status)
	}
	return p
}

// take writes what comes behind the part that is there, and keeps the whole.
func (f *fetch) take(ctx context.Context, cancel context.CancelCauseFunc, answer *http.Response, said Kept, have int64) (*Kept, error) {
	if err := f.fits(answer, said.Bytes, have); err != nil {
		return nil, err
	}
	if err := writeJSON(f.part()+".json", said); err != nil {
		return nil, err
	}
	flags := os.O_WRONLY | os.O_CREATE | os.O_APPEND
	if have == 0 {
		flags |= os.O_TRUNC
	}
	out, err := os.OpenFile(f.part(), flags, 0o666)
	if err != nil {
		return nil, err
	}
	n, err := f.copy(ctx, cancel, out, answer.Body, have, said.Bytes)
	if err = errors.Join(err, out.Close()); err != nil {
		return nil, err
	}
	if said.Bytes >= 0 && n != said.Bytes {
		return nil, fmt.Errorf("%d bytes of %d have come", n, said.Bytes)
	}
	said.Bytes = n
	return f.keep(said)
}

// fits refuses what is no map, or too large.
func (f *fetch) fits(answer *http.Response, size, have int64) error {
	if kind := answer.Header.Get("Content-Type"); strings.HasPrefix(kind, "text/html") {
		return &Problem{Address: f.address, What: "the server sends a web page, not a map", Fix: "find the map's own address: the one that a click on its download asks for"}
	}
	if size > f.most() {
		return f.tooLarge()
	}
	var s unix.Statfs_t
	if err := unix.Statfs(f.dir, &s); err == nil && size-have > int64(s.Bavail)*s.Bsize-spared {
		return &fs.PathError{Op: "keep a copy of " + f.address + " in", Path: f.dir, Err: unix.ENOSPC}
	}
	return nil
}

// spared is what is left of the disk, at least.
const spared = 256 << 20

func (f *fetch) most() int64 {
	if f.store.Most > 0 {
		return f.store.Most
	}
	return mostBytes
}

func (f *fetch) tooLarge() error {
	return &Problem{Address: f.address, What: fmt.Sprintf("the map has more than %d MB", f.most()>>20), Fix: "fetch it yourself, or a part of it, and name the file"}
}

// errStall is the end of a server that says nothing more.
var errStall = errors.New("the server has fallen silent")

// copy writes what comes, and gives up a server that falls silent.
func (f *fetch) copy(ctx context.Context, cancel context.CancelCauseFunc, out io.Writer, in io.Reader, have, total int64) (int64, error) {
	stall := f.store.stall
	if stall == 0 {
		stall = time.Minute
	}
	clock := time.AfterFunc(stall, func() { cancel(errStall) })
	defer clock.Stop()
	buffer := make([]byte, 1<<17)
	for {
		n, end := in.Read(buffer)
		clock.Reset(stall)
		have += int64(n)
		if have > f.most() {
			return have, f.tooLarge()
		}
		if _, err := out.Write(buffer[:n]); err != nil {
			return have, err
		}
		if f.store.Progress != nil {
			f.store.Progress(f.address, have, max(total, 0))
		}
		switch {
		case errors.Is(end, io.EOF):
			return have, nil
		case end != nil && errors.Is(context.Cause(ctx), errStall):
			return have, errStall
		case end != nil:
			return have, end
		case ctx.Err() != nil:
			return have, context.Cause(ctx)
		}
	}
}

// keep puts a part that is whole where the copy belongs.
func (f *fetch) keep(k Kept) (*Kept, error) {
	sum, err := hashOf(f.part())
	if err != nil {
		return nil, err
	}
	info, err := os.Stat(f.part())
	if err != nil {
		return nil, err
	}
	k.SHA256, k.Fetched, k.Stamp = sum, time.Now().UTC().Truncate(time.Second), info.ModTime().UTC()
	if err := os.Rename(f.part(), f.file()); err != nil {
		return nil, err
	}
	if err := writeJSON(filepath.Join(f.dir, "kept.json"), k); err != nil {
		return nil, err
	}
	if err := os.Remove(f.part() + ".json"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	return &k, nil
}

func hashOf(file string) (string, error) {
	in, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer in.Close()
	sum := sha256.New()
	_, err = io.Copy(sum, in)
	return hex.EncodeToString(sum.Sum(nil)), err
}

// Split finds the archive in an address: https://maps.example/all.zip/a.tif is
// the member a.tif of all.zip. ending tells the archive endings of names.
func Split(address string, ending func(name string) string) (archive, member string) {
	u, err := url.Parse(address)
	if err != nil || u.RawQuery != "" || u.Fragment != "" {
		return address, ""
	}
	way := u.EscapedPath()
	for at := 1; at < len(way); at++ {
		if way[at] != '/' || ending(way[:at]) == "" {
			continue
		}
		inner, err := url.PathUnescape(strings.Trim(way[at:], "/"))
		if err != nil {
			return address, ""
		}
		return strings.TrimSuffix(address, way[at:]), inner
	}
	return address, ""
}
