package crs

/*
#cgo pkg-config: proj
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <proj.h>
#include <proj_experimental.h>

enum { crs_message_size = 512 };

static void crs_log(void *to, int level, const char *message) {
	if (level != PJ_LOG_ERROR) return;
	strncpy((char *)to, message, crs_message_size - 1);
}

static PJ_CONTEXT *crs_context(char *message) {
	PJ_CONTEXT *ctx = proj_context_create();
	if (ctx == NULL) return NULL;
	proj_log_func(ctx, message, crs_log);
	proj_log_level(ctx, PJ_LOG_ERROR);
	if (proj_context_set_enable_network(ctx, 0)) return proj_context_destroy(ctx);
	return ctx;
}

// Height 0 and no epoch: time-dependent steps then stay at their own epoch.
static void crs_transform(PJ *p, int inverse, size_t n, double *x, double *y) {
	double z = 0, t = HUGE_VAL;
	size_t s = sizeof(double);
	proj_trans_generic(p, inverse ? PJ_INV : PJ_FWD, x, s, n, y, s, n, &z, s, 1, &t, s, 1);
}

static PJ *crs_get(PJ_CONTEXT *ctx, PJ_OBJ_LIST *list, int i) { return proj_list_get(ctx, list, i); }
*/
import "C"

import (
	"errors"
	"fmt"
	"unsafe"
)

// session is one PROJ context and everything created in it, all freed by
// close. It is not for two goroutines.
type session struct {
	context
	objects []*C.PJ
}

// context is a connection to PROJ and its registry.
type context struct {
	ctx     *C.PJ_CONTEXT
	message *C.char
}

// idle keeps contexts between sessions: what one has read of the registry,
// the next need not read again.
var idle = make(chan context, 4)

// object is a thing of the registry or an operation, owned by its session.
type object struct {
	s  *session
	pj *C.PJ
}

func newSession() (*session, error) {
	select {
	case c := <-idle:
		return &session{context: c}, nil
	default:
	}
	message := (*C.char)(C.calloc(1, C.crs_message_size))
	ctx := C.crs_context(message)
	if ctx == nil {
		C.free(unsafe.Pointer(message))
		return nil, errors.New("PROJ gave no context without network; memory may be short")
	}
	return &session{context: context{ctx, message}}, nil
}

func (s *session) close() {
	if s.ctx == nil {
		return
	}
	for i := len(s.objects) - 1; i >= 0; i-- {
		C.proj_destroy(s.objects[i])
	}
	s.trouble()
	select {
	case idle <- s.context:
	default:
		C.proj_context_destroy(s.ctx)
		C.free(unsafe.Pointer(s.message))
	}
	s.context, s.objects = context{}, nil
}

// trouble returns and forgets the last message that PROJ logged.
func (s *session) trouble() string {
	m := C.GoString(s.message)
	*s.message = 0
	return m
}

func (s *session) own(pj *C.PJ) (object, bool) {
	if pj == nil {
		return object{}, false
	}
	s.objects = append(s.objects, pj)
	return object{s, pj}, true
}

func (s *session) create(text string) (object, bool) {
	c := C.CString(text)
	defer C.free(unsafe.Pointer(c))
	return s.own(C.proj_create(s.ctx, c))
}

func (s *session) fromRegistry(authority, code string) (object, bool) {
	a, c := C.CString(authority), C.CString(code)
	defer C.free(unsafe.Pointer(a))
	defer C.free(unsafe.Pointer(c))
	return s.own(C.proj_create_from_database(s.ctx, a, c, C.PJ_CATEGORY_CRS, 0, nil))
}

// kind is what sort of CRS an object is, as far as this package cares.
type kind int

const (
	kindOther kind = iota
	kindCompound
	kindBound
	kindGeographic
	kindProjected
	kindGeocentric
	kindVertical
	kindLocal
)

var kinds = map[C.PJ_TYPE]kind{
	C.PJ_TYPE_COMPOUND_CRS:      kindCompound,
	C.PJ_TYPE_BOUND_CRS:         kindBound,
	C.PJ_TYPE_GEOGRAPHIC_2D_CRS: kindGeographic,
	C.PJ_TYPE_GEOGRAPHIC_3D_CRS: kindGeographic,
	C.PJ_TYPE_PROJECTED_CRS:     kindProjected,
	C.PJ_TYPE_GEOCENTRIC_CRS:    kindGeocentric,
	C.PJ_TYPE_VERTICAL_CRS:      kindVertical,
	C.PJ_TYPE_ENGINEERING_CRS:   kindLocal,
}

func (o object) kind() kind  { return kinds[C.proj_get_type(o.pj)] }
func (o object) isCRS() bool { return C.proj_is_crs(o.pj) != 0 }

func (o object) name() string { return C.GoString(C.proj_get_name(o.pj)) }

// id returns authority and code as the object itself carries them, or "".
func (o object) id() string {
	a, c := C.proj_get_id_auth_name(o.pj, 0), C.proj_get_id_code(o.pj, 0)
	if a == nil || c == nil {
		return ""
	}
	return C.GoString(a) + ":" + C.GoString(c)
}

func (o object) part(i int) (object, bool) {
	return o.s.own(C.proj_crs_get_sub_crs(o.s.ctx, o.pj, C.int(i)))
}

func (o object) bound() (object, bool) {
	return o.s.own(C.proj_get_source_crs(o.s.ctx, o.pj))
}

func (o object) flat() (object, bool) {
	return o.s.own(C.proj_crs_demote_to_2D(o.s.ctx, nil, o.pj))
}

func (o object) geodetic() (object, bool) {
	return o.s.own(C.proj_crs_get_geodetic_crs(o.s.ctx, o.pj))
}

func (o object) normalised() (object, bool) {
	return o.s.own(C.proj_normalize_for_visualization(o.s.ctx, o.pj))
}

// equivalent compares two CRSs, ignoring names and the axis order of
// geographic parts.
func (o object) equivalent(p object) bool {
	return C.proj_is_equivalent_to_with_ctx(o.s.ctx, o.pj, p.pj,
		C.PJ_COMP_EQUIVALENT_EXCEPT_AXIS_ORDER_GEOGCRS) != 0
}

func (o object) wkt() string {
	option := C.CString("MULTILINE=NO")
	defer C.free(unsafe.Pointer(option))
	options := [2]*C.char{option, nil}
	list := (**C.char)(C.malloc(C.size_t(unsafe.Sizeof(options))))
	defer C.free(unsafe.Pointer(list))
	copy(unsafe.Slice(list, 2), options[:])
	return C.GoString(C.proj_as_wkt(o.s.ctx, o.pj, C.PJ_WKT2_2019, list))
}

// pipeline returns an operation as a PROJ string, "" where there is none.
func (o object) pipeline() string {
	return C.GoString(C.proj_as_proj_string(o.s.ctx, o.pj, C.PJ_PROJ_5, nil))
}

// axes returns the number of axes and the size of the first one's unit in
// metres or radians.
func (o object) axes() (count int, unit float64) {
	cs, ok := o.s.own(C.proj_crs_get_coordinate_system(o.s.ctx, o.pj))
	if !ok {
		return 0, 0
	}
	count = int(C.proj_cs_get_axis_count(o.s.ctx, cs.pj))
	var u C.double
	C.proj_cs_get_axis_info(o.s.ctx, cs.pj, 0, nil, nil, nil, &u, nil, nil, nil)
	return count, float64(u)
}

// primeMeridian returns its longitude in radians east of Greenwich.
func (o object) primeMeridian() float64 {
	pm, ok := o.s.own(C.proj_get_prime_meridian(o.s.ctx, o.pj))
	if !ok {
		return 0
	}
	var lon, unit C.double
	C.proj_prime_meridian_get_parameters(o.s.ctx, pm.pj, &lon, &unit, nil)
	return float64(lon * unit)
}

// ellipsoid returns the semi-major axis in metres and the flattening.
func (o object) ellipsoid() (a, f float64, ok bool) {
	e, ok := o.s.own(C.proj_get_ellipsoid(o.s.ctx, o.pj))
	if !ok {
		return 0, 0, false
	}
	var major, inverse C.double
	C.proj_ellipsoid_get_parameters(o.s.ctx, e.pj, &major, nil, nil, &inverse)
	if inverse != 0 {
		f = 1 / float64(inverse)
	}
	return float64(major), f, true
}

// candidate is a registry entry that PROJ takes for an object. At a confidence
// of 100 percent the names agree too, at 70 all else does.
type candidate struct {
	id         string
	confidence int
}

// identified returns the entries that PROJ takes for the object, in PROJ's
// order. It goes through the whole registry where no name helps, which takes
// a good part of a second.
func (o object) identified() []candidate {
	var confidence *C.int
	list := C.proj_identify(o.s.ctx, o.pj, nil, nil, &confidence)
	if list == nil {
		return nil
	}
	defer C.proj_list_destroy(list)
	defer C.proj_int_list_destroy(confidence)
	n := int(C.proj_list_get_count(list))
	var out []candidate
	for i, c := range unsafe.Slice(confidence, n) {
		entry, ok := o.s.own(C.crs_get(o.s.ctx, list, C.int(i)))
		if ok && entry.id() != "" {
			out = append(out, candidate{entry.id(), int(c)})
		}
	}
	return out
}

// search says which operations are asked for.
type search struct {
	area       Box
	everywhere bool // area does not count
	ballpark   bool // without datum shift is allowed
	unready    bool // operations whose grid files are missing, too
}

// operations returns PROJ's candidates from one CRS to another, best first.
func (s *session) operations(from, to object, q search) ([]object, error) {
	factory := C.proj_create_operation_factory_context(s.ctx, nil)
	if factory == nil {
		return nil, fmt.Errorf("PROJ cannot look for operations: %s", s.trouble())
	}
	defer C.proj_operation_factory_context_destroy(factory)
	if !q.everywhere {
		C.proj_operation_factory_context_set_area_of_interest(s.ctx, factory, C.double(q.area.West),
			C.double(q.area.South), C.double(q.area.East), C.double(q.area.North))
	}
	grids := C.PROJ_GRID_AVAILABILITY_USE(C.PROJ_GRID_AVAILABILITY_DISCARD_OPERATION_IF_MISSING_GRID)
	if q.unready {
		grids = C.PROJ_GRID_AVAILABILITY_IGNORED
	}
	C.proj_operation_factory_context_set_grid_availability_use(s.ctx, factory, grids)
	C.proj_operation_factory_context_set_spatial_criterion(s.ctx, factory, C.PROJ_SPATIAL_CRITERION_PARTIAL_INTERSECTION)
	C.proj_operation_factory_context_set_allow_ballpark_transformations(s.ctx, factory, truth(q.ballpark))
	list := C.proj_create_operations(s.ctx, from.pj, to.pj, factory)
	if list == nil {
		return nil, nil
	}
	defer C.proj_list_destroy(list)
	var out []object
	for i := range int(C.proj_list_get_count(list)) {
		if op, ok := s.own(C.crs_get(s.ctx, list, C.int(i))); ok {
			out = append(out, op)
		}
	}
	return out, nil
}

func truth(b bool) C.int {
	if b {
		return 1
	}
	return 0
}

// accuracy returns the accuracy of an operation in metres, -1 if unknown.
func (o object) accuracy() float64 {
	return float64(C.proj_coordoperation_get_accuracy(o.s.ctx, o.pj))
}

func (o object) ballpark() bool {
	return C.proj_coordoperation_has_ballpark_transformation(o.s.ctx, o.pj) != 0
}

// gridded reports whether an operation reads grid files.
func (o object) gridded() bool {
	return C.proj_coordoperation_get_grid_used_count(o.s.ctx, o.pj) > 0
}

// missingGrids returns the files an operation needs and that are not there.
func (o object) missingGrids() []string {
	var out []string
	for i := range C.proj_coordoperation_get_grid_used_count(o.s.ctx, o.pj) {
		var short *C.char
		var available C.int
		if C.proj_coordoperation_get_grid_used(o.s.ctx, o.pj, i, &short, nil, nil, nil, nil, nil, &available) != 0 && available == 0 {
			out = append(out, C.GoString(short))
		}
	}
	return out
}

// transform changes points in place; see crs_transform.
func (o object) transform(inverse bool, x, y []float64) {
	if len(x) == 0 {
		return
	}
	C.crs_transform(o.pj, truth(inverse), C.size_t(len(x)), (*C.double)(&x[0]), (*C.double)(&y[0]))
}

// Version returns the versions of PROJ and of the registry it reads, for the
// account of a run: "PROJ 9.1.1, EPSG v10.076".
func Version() string {
	release := C.proj_info()
	out := "PROJ " + C.GoString(release.version)
	s, err := newSession()
	if err != nil {
		return out
	}
	defer s.close()
	key := C.CString("EPSG.VERSION")
	defer C.free(unsafe.Pointer(key))
	if v := C.proj_context_get_database_metadata(s.ctx, key); v != nil {
		out += ", EPSG " + C.GoString(v)
	}
	return out
}
