package maps

import (
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/airbusgeo/godal"
)

// Lender has the bytes of a raster file that lies on no disk of this machine.
// Any number of goroutines read from it.
type Lender interface {
	ReadAt(p []byte, off int64) (int, error)
	Size() int64
	// Trouble returns the last error of ReadAt; nil where there was none.
	Trouble() error
}

// lentFolder begins the names of files that are lent.
const lentFolder = "/likelyground-lent/"

var lent struct {
	sync.Mutex
	once  sync.Once
	err   error
	count int
	files map[string]Lender
}

// Lend makes bytes readable under a name that stands for a file in the specs
// of rasters until it is given back. The file has no side files. Its name ends
// in the name given, which tells its format.
func Lend(name string, l Lender) (file string, giveBack func(), err error) {
	lent.once.Do(func() {
		lent.files = map[string]Lender{}
		lent.err = godal.RegisterVSIHandler(lentFolder, lentFiles{}, godal.VSIHandlerBufferSize(64<<10), godal.VSIHandlerCacheSize(1<<20))
	})
	if lent.err != nil {
		return "", nil, fmt.Errorf("make a map of the network readable: %w", lent.err)
	}
	lent.Lock()
	defer lent.Unlock()
	lent.count++
	file = fmt.Sprintf("%s%d/%s", lentFolder, lent.count, filepath.Base(filepath.Clean("/"+name)))
	lent.files[file] = l
	return file, func() {
		lent.Lock()
		defer lent.Unlock()
		delete(lent.files, file)
	}, nil
}

// lender returns who lends a file; nil for a file that is none of the lent.
func lender(file string) Lender {
	if !strings.HasPrefix(file, lentFolder) {
		return nil
	}
	lent.Lock()
	defer lent.Unlock()
	return lent.files[file]
}

// lentFiles gives GDAL the bytes of lent files.
type lentFiles struct{}

func (lentFiles) ReadAt(file string, p []byte, off int64) (int, error) {
	l := lender(file)
	if l == nil {
		return 0, fs.ErrNotExist
	}
	return l.ReadAt(p, off)
}

func (lentFiles) Size(file string) (int64, error) {
	l := lender(file)
	if l == nil {
		return 0, fs.ErrNotExist // side files are looked for by their names
	}
	return l.Size(), nil
}

// lentStamp is the state of a lent file, which its lender watches.
func lentStamp(file string, l Lender) stamp { return stamp{file, l.Size(), time.Time{}} }
