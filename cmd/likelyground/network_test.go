package main

import (
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"

	"github.com/rogpeppe/go-internal/testscript"
)

// network is the server of a script: the work folder on the loopback, under
// the address $SERVER.
type network struct {
	*httptest.Server
	asked atomic.Int64
}

func (n *network) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	n.asked.Add(1)
	if strings.HasPrefix(r.URL.Path, "/moved/") {
		http.Redirect(w, r, "file:///etc/passwd", http.StatusFound)
		return
	}
	http.FileServer(http.Dir(filepath.Clean(n.Config.Addr))).ServeHTTP(w, r)
}

// serve starts the server of a script; its folder stands where a server that
// listens by itself has its address.
func serve(e *testscript.Env) {
	n := &network{}
	n.Server = httptest.NewUnstartedServer(n)
	n.Config.Addr = e.WorkDir
	n.Start()
	e.Defer(n.Close)
	e.Setenv("SERVER", n.URL)
	e.Values["network"] = n
}

// asked N fails unless the server was asked so often since the last time.
func asked(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.ParseInt(args[0], 10, 64)
	ts.Check(err)
	if n := ts.Value("network").(*network).asked.Swap(0); n != want {
		ts.Fatalf("the server was asked %d times, not %d", n, want)
	}
}

// shut ends the server.
func shut(ts *testscript.TestScript, _ bool, args []string) {
	ts.Value("network").(*network).Close()
}
