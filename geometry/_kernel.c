/* The small questions that the search for runs asks millions of times, answered without Python between them.

   A scene is packed once: boxes, cylinders and prisms with holes in their own axes, meshes in trees of triangles, and
   the compartments whose inside the runs must keep to. Lengths are metres. `geometry/kernel.py` packs scenes and holds the same answers in numpy for
   machines without a C compiler; a test holds the two against each other.
*/
#define PY_SSIZE_T_CLEAN
#include <Python.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { BOX = 0, ROUND = 1, PRISM = 2, ROOMS = 3, MESH = 4 };
enum { HALVINGS = 7 };
enum { MOST_SOLIDS = 1 << 20, MOST_SIDES = 1 << 24 }; /* far beyond any site; keeps sizes from overflowing */

typedef struct {
    int64_t solids; /* that may be asked about; the compartments' walls, if any, are the last */
    int64_t total;  /* with the compartments themselves */
    int64_t *kind, *first_side, *first_circle;
    double *axes, *centre, *half, *keep_off;
    double *sides;   /* (x, y) of both ends of each; neighbours share the very same numbers */
    double *circles; /* x, y, radius of each round hole */
    int64_t bodies;  /* of all meshes */
    int64_t *first_body, *first_facet, *first_box;
    double *facets, *boxes;
} Scene;

static const char *SCENE = "geometry._kernel.scene";

static void free_scene(Scene *s)
{
    if (!s)
        return;
    free(s->kind);
    free(s->first_side);
    free(s->first_circle);
    free(s->axes);
    free(s->centre);
    free(s->half);
    free(s->keep_off);
    free(s->sides);
    free(s->circles);
    free(s->first_body);
    free(s->first_facet);
    free(s->first_box);
    free(s->facets);
    free(s->boxes);
    free(s);
}

static void scene_gone(PyObject *capsule)
{
    free_scene((Scene *)PyCapsule_GetPointer(capsule, SCENE));
}

/* A contiguous buffer of `count` items of 8 bytes (count < 0: any number); NULL with an exception set otherwise. */
static void *items(PyObject *object, Py_buffer *view, char kind, Py_ssize_t count, int writable, const char *what)
{
    int flags = PyBUF_C_CONTIGUOUS | PyBUF_FORMAT | (writable ? PyBUF_WRITABLE : 0);
    if (PyObject_GetBuffer(object, view, flags) < 0)
        return NULL;
    const char *format = view->format ? view->format : "B";
    int good = kind == 'd' ? !strcmp(format, "d") : (!strcmp(format, "l") || !strcmp(format, "q"));
    if (!good || view->itemsize != 8) {
        PyErr_Format(PyExc_ValueError, "%s: wrong type of number", what);
        PyBuffer_Release(view);
        return NULL;
    }
    if (count >= 0 && view->len != count * 8) {
        PyErr_Format(PyExc_ValueError, "%s: %zd numbers, %zd are wanted", what, view->len / 8, count);
        PyBuffer_Release(view);
        return NULL;
    }
    return view->buf;
}

/* The same for items of one byte, to be written to. */
static void *bytes(PyObject *object, Py_buffer *view, Py_ssize_t count, const char *what)
{
    if (PyObject_GetBuffer(object, view, PyBUF_C_CONTIGUOUS | PyBUF_WRITABLE) < 0)
        return NULL;
    if (view->itemsize != 1 || view->len != count) {
        PyErr_Format(PyExc_ValueError, "%s: %zd bytes, %zd are wanted", what, view->len, count);
        PyBuffer_Release(view);
        return NULL;
    }
    return view->buf;
}

static void *copied(PyObject *object, char kind, Py_ssize_t count, const char *what)
{
    Py_buffer view;
    void *from = items(object, &view, kind, count, 0, what);
    if (!from)
        return NULL;
    void *to = malloc(view.len ? (size_t)view.len : 8);
    if (to)
        memcpy(to, from, (size_t)view.len);
    else
        PyErr_NoMemory();
    PyBuffer_Release(&view);
    return to;
}

#include "_mesh.h"

/* The trees of a scene's meshes: no triangle and no box may be asked for that is not there. */
static int take_meshes(Scene *s, PyObject *first_body, PyObject *first_facet, PyObject *first_box, PyObject *facets,
                       PyObject *boxes)
{
    if (!(s->first_body = copied(first_body, 'l', s->total + 1, "first body")))
        return 0;
    int sound = s->first_body[0] == 0;
    for (int64_t i = 0; i < s->total && sound; i++) {
        int64_t own = s->first_body[i + 1] - s->first_body[i];
        sound = own >= 0 && own <= MOST_SOLIDS && (own > 0) == (s->kind[i] == MESH) && s->first_body[i + 1] <= MOST_SOLIDS;
    }
    s->bodies = sound ? s->first_body[s->total] : 0;
    if (!(s->first_facet = copied(first_facet, 'l', s->bodies + 1, "first facet")) ||
        !(s->first_box = copied(first_box, 'l', s->bodies + 1, "first box")))
        return 0;
    sound = sound && s->first_facet[0] == 0 && s->first_box[0] == 0;
    for (int64_t i = 0; i < s->bodies && sound; i++) {
        int64_t own = s->first_facet[i + 1] - s->first_facet[i];
        sound = own > 0 && own <= MOST_SIDES && s->first_facet[i + 1] <= MOST_SIDES &&
                s->first_box[i + 1] - s->first_box[i] == boxes_needed(own);
    }
    if (!sound) {
        PyErr_SetString(PyExc_ValueError, "a scene's meshes are not packed as they should be");
        return 0;
    }
    s->facets = copied(facets, 'd', FACET * s->first_facet[s->bodies], "facets");
    s->boxes = s->facets ? copied(boxes, 'd', 6 * s->first_box[s->bodies], "boxes") : NULL;
    return s->boxes != NULL;
}

static PyObject *make_scene(PyObject *self, PyObject *args)
{
    PyObject *kind, *axes, *centre, *half, *keep_off, *first_side, *sides, *first_circle, *circles;
    PyObject *first_body, *first_facet, *first_box, *facets, *boxes;
    Py_ssize_t solids, total;
    if (!PyArg_ParseTuple(args, "nnOOOOOOOOOOOOOO", &solids, &total, &kind, &axes, &centre, &half, &keep_off,
                          &first_side, &sides, &first_circle, &circles, &first_body, &first_facet, &first_box, &facets,
                          &boxes))
        return NULL;
    if (solids < 0 || total < solids || total > MOST_SOLIDS) {
        PyErr_SetString(PyExc_ValueError, "a scene has fewer solids than are asked about, or too many");
        return NULL;
    }
    Scene *s = calloc(1, sizeof(Scene));
    if (!s)
        return PyErr_NoMemory();
    s->solids = solids;
    s->total = total;
    if (!(s->kind = copied(kind, 'l', total, "kind")) || !(s->axes = copied(axes, 'd', 9 * total, "axes")) ||
        !(s->centre = copied(centre, 'd', 3 * total, "centre")) || !(s->half = copied(half, 'd', 3 * total, "half")) ||
        !(s->keep_off = copied(keep_off, 'd', total, "keep-off")) ||
        !(s->first_side = copied(first_side, 'l', total + 1, "first side")) ||
        !(s->first_circle = copied(first_circle, 'l', total + 1, "first circle"))) {
        free_scene(s);
        return NULL;
    }
    int sound = s->first_side[0] == 0 && s->first_circle[0] == 0;
    for (int64_t i = 0; i < total && sound; i++) {
        int known_kind = s->kind[i] >= BOX && s->kind[i] <= MESH && (s->kind[i] != ROOMS || i < solids);
        sound = known_kind && s->first_side[i + 1] >= s->first_side[i] && s->first_side[i + 1] <= MOST_SIDES &&
                s->first_circle[i + 1] >= s->first_circle[i] && s->first_circle[i + 1] <= MOST_SIDES;
    }
    if (!sound) {
        free_scene(s);
        PyErr_SetString(PyExc_ValueError, "a scene's solids are not packed as they should be");
        return NULL;
    }
    if (!(s->sides = copied(sides, 'd', 4 * s->first_side[total], "sides")) ||
        !(s->circles = copied(circles, 'd', 3 * s->first_circle[total], "circles")) ||
        !take_meshes(s, first_body, first_facet, first_box, facets, boxes)) {
        free_scene(s);
        return NULL;
    }
    PyObject *capsule = PyCapsule_New(s, SCENE, scene_gone);
    if (!capsule)
        free_scene(s);
    return capsule;
}

/* Distance in the plane to a prism's outline and holes, negative in the material. */
static double outline(const Scene *s, int64_t i, double x, double y)
{
    double least = INFINITY;
    int inside = 0;
    for (int64_t j = s->first_side[i]; j < s->first_side[i + 1]; j++) {
        const double *side = s->sides + 4 * j;
        double ox = x - side[0], oy = y - side[1], sx = side[2] - side[0], sy = side[3] - side[1];
        double share = (ox * sx + oy * sy) / (sx * sx + sy * sy);
        share = share < 0 ? 0 : share > 1 ? 1 : share;
        double ax = ox - share * sx, ay = oy - share * sy;
        double square = ax * ax + ay * ay;
        if (!(square >= least)) /* so that what is no number stays none */
            least = square;
        if ((side[1] > y) != (side[3] > y) && ox < sx * oy / sy)
            inside = !inside;
    }
    least = sqrt(least);
    for (int64_t j = s->first_circle[i]; j < s->first_circle[i + 1]; j++) {
        const double *circle = s->circles + 3 * j;
        double out = hypot(x - circle[0], y - circle[1]) - circle[2];
        if (fabs(out) < least)
            least = fabs(out);
        if (out <= 0)
            inside = 0;
    }
    return inside ? -least : least;
}

static double distance(const Scene *s, int64_t i, const double *p)
{
    if (s->kind[i] == ROOMS) {
        double room = -INFINITY;
        for (int64_t j = s->solids; j < s->total; j++) {
            double inside = -distance(s, j, p) - 2 * s->keep_off[j];
            if (!(inside <= room))
                room = inside;
        }
        return room - s->keep_off[i];
    }
    if (s->kind[i] == MESH)
        return mesh_distance(s, i, p) - s->keep_off[i];
    const double *a = s->axes + 9 * i, *c = s->centre + 3 * i, *half = s->half + 3 * i;
    double x = a[0] * p[0] + a[1] * p[1] + a[2] * p[2] - c[0];
    double y = a[3] * p[0] + a[4] * p[1] + a[5] * p[2] - c[1];
    double z = a[6] * p[0] + a[7] * p[1] + a[8] * p[2] - c[2];
    double bz = fabs(z) - half[2], found;
    if (s->kind[i] == BOX) {
        double bx = fabs(x) - half[0], by = fabs(y) - half[1];
        double ox = bx < 0 ? 0 : bx, oy = by < 0 ? 0 : by, oz = bz < 0 ? 0 : bz;
        double most = bx > by ? bx : by;
        if (bz > most)
            most = bz;
        found = sqrt(ox * ox + oy * oy + oz * oz) + (most < 0 ? most : 0);
    }
    else {
        double across = s->kind[i] == ROUND ? hypot(x, y) - half[0] : outline(s, i, x, y);
        double ox = across < 0 ? 0 : across, oz = bz < 0 ? 0 : bz;
        double most = across > bz ? across : bz;
        found = sqrt(ox * ox + oz * oz) + (most < 0 ? most : 0);
    }
    return found - s->keep_off[i];
}

/* Points (n, 3); sets how many they are. */
static double *places(PyObject *object, Py_buffer *view, Py_ssize_t *count, const char *what)
{
    double *found = items(object, view, 'd', -1, 0, what);
    if (found && view->len % 24) {
        PyErr_Format(PyExc_ValueError, "%s: three numbers a point are wanted", what);
        PyBuffer_Release(view);
        return NULL;
    }
    if (found)
        *count = view->len / 24;
    return found;
}

static Scene *scene_of(PyObject *capsule)
{
    return (Scene *)PyCapsule_GetPointer(capsule, SCENE);
}

static int known(const Scene *s, const int64_t *which, Py_ssize_t count)
{
    for (Py_ssize_t j = 0; j < count; j++)
        if (which[j] < 0 || which[j] >= s->solids) {
            PyErr_Format(PyExc_ValueError, "the scene has no solid %lld", (long long)which[j]);
            return 0;
        }
    return 1;
}

/* distances(scene, points (n, 3), which (k), out (n, k)) */
static PyObject *distances(PyObject *self, PyObject *args)
{
    PyObject *capsule, *points_, *which_, *out_;
    Py_buffer pv, wv, ov;
    if (!PyArg_ParseTuple(args, "OOOO", &capsule, &points_, &which_, &out_))
        return NULL;
    Scene *s = scene_of(capsule);
    if (!s)
        return NULL;
    Py_ssize_t n;
    double *points = places(points_, &pv, &n, "points");
    if (!points)
        return NULL;
    PyObject *result = NULL;
    int64_t *which = items(which_, &wv, 'l', -1, 0, "which");
    if (which) {
        Py_ssize_t k = wv.len / 8;
        double *out = known(s, which, k) ? items(out_, &ov, 'd', n * k, 1, "out") : NULL;
        if (out) {
            Py_BEGIN_ALLOW_THREADS;
            for (Py_ssize_t i = 0; i < n; i++)
                for (Py_ssize_t j = 0; j < k; j++)
                    out[i * k + j] = distance(s, which[j], points + 3 * i);
            Py_END_ALLOW_THREADS;
            PyBuffer_Release(&ov);
            result = Py_NewRef(Py_None);
        }
        PyBuffer_Release(&wv);
    }
    PyBuffer_Release(&pv);
    return result;
}

/* pairs(scene, points (n, 3), which (n), out (n)) */
static PyObject *pairs(PyObject *self, PyObject *args)
{
    PyObject *capsule, *points_, *which_, *out_;
    Py_buffer pv, wv, ov;
    if (!PyArg_ParseTuple(args, "OOOO", &capsule, &points_, &which_, &out_))
        return NULL;
    Scene *s = scene_of(capsule);
    if (!s)
        return NULL;
    int64_t *which = items(which_, &wv, 'l', -1, 0, "which");
    if (!which)
        return NULL;
    Py_ssize_t n = wv.len / 8;
    PyObject *result = NULL;
    double *points = known(s, which, n) ? items(points_, &pv, 'd', 3 * n, 0, "points") : NULL;
    if (points) {
        double *out = items(out_, &ov, 'd', n, 1, "out");
        if (out) {
            Py_BEGIN_ALLOW_THREADS;
            for (Py_ssize_t i = 0; i < n; i++)
                out[i] = distance(s, which[i], points + 3 * i);
            Py_END_ALLOW_THREADS;
            PyBuffer_Release(&ov);
            result = Py_NewRef(Py_None);
        }
        PyBuffer_Release(&pv);
    }
    PyBuffer_Release(&wv);
    return result;
}

typedef struct {
    const Scene *s;
    int64_t solid;
    const double *start;
    double way[3];
    double length, standoff;
} Segment;

static double at(const Segment *g, double share)
{
    double p[3] = {g->start[0] + share * g->way[0], g->start[1] + share * g->way[1], g->start[2] + share * g->way[2]};
    return distance(g->s, g->solid, p) - g->standoff;
}

/* Distance changes by no more than a metre a metre: halve until a stretch is free, or blocked at a place. */
static int stretch_blocked(const Segment *g, double low, double high, double low_d, double high_d, int left)
{
    if ((low_d + high_d - (high - low) * g->length) / 2 >= 0 || left == 0)
        return 0;
    double middle = (low + high) / 2, middle_d = at(g, middle);
    if (middle_d < 0)
        return 1;
    return stretch_blocked(g, low, middle, low_d, middle_d, left - 1) ||
           stretch_blocked(g, middle, high, middle_d, high_d, left - 1);
}

static int segment_blocked(const Scene *s, int64_t solid, const double *start, const double *end, double standoff,
                           int ends_only)
{
    Segment g = {s, solid, start, {end[0] - start[0], end[1] - start[1], end[2] - start[2]}, 0, standoff};
    double low = 0, high = 1;
    if (s->kind[solid] != ROOMS) {
        /* the part of the segment within the solid's own bounding box, grown by the standoff */
        const double *a = s->axes + 9 * solid, *c = s->centre + 3 * solid, *half = s->half + 3 * solid;
        double grown = s->keep_off[solid] + standoff;
        for (int r = 0; r < 3; r++) {
            double one = a[3 * r] * start[0] + a[3 * r + 1] * start[1] + a[3 * r + 2] * start[2] - c[r];
            double along = a[3 * r] * g.way[0] + a[3 * r + 1] * g.way[1] + a[3 * r + 2] * g.way[2];
            if (fabs(along) < 1e-12)
                along = 1e-12;
            double wide = half[r] + grown, t0 = (-wide - one) / along, t1 = (wide - one) / along;
            if (t0 > t1) {
                double t = t0;
                t0 = t1;
                t1 = t;
            }
            if (t0 > low)
                low = t0;
            if (t1 < high)
                high = t1;
            if (!(low < high))
                return 0;
        }
    }
    double low_d = at(&g, low), high_d = at(&g, high);
    if (low_d < 0 || high_d < 0)
        return 1;
    if (ends_only && s->kind[solid] == ROOMS)
        return 0;
    g.length = sqrt(g.way[0] * g.way[0] + g.way[1] * g.way[1] + g.way[2] * g.way[2]);
    return stretch_blocked(&g, low, high, low_d, high_d, HALVINGS);
}

/* blocked(scene, starts (n, 3), ends (n, 3), which (k), standoff, rooms_convex, out (n, k) bytes, any) */
static PyObject *blocked(PyObject *self, PyObject *args)
{
    PyObject *capsule, *starts_, *ends_, *which_, *out_;
    double standoff;
    int convex, any;
    Py_buffer sv, ev, wv, ov;
    if (!PyArg_ParseTuple(args, "OOOOdpOp", &capsule, &starts_, &ends_, &which_, &standoff, &convex, &out_, &any))
        return NULL;
    Scene *s = scene_of(capsule);
    if (!s)
        return NULL;
    Py_ssize_t n;
    double *starts = places(starts_, &sv, &n, "starts");
    if (!starts)
        return NULL;
    PyObject *result = NULL;
    double *ends = items(ends_, &ev, 'd', 3 * n, 0, "ends");
    if (ends) {
        int64_t *which = items(which_, &wv, 'l', -1, 0, "which");
        if (which) {
            Py_ssize_t k = wv.len / 8;
            unsigned char *out = known(s, which, k) ? bytes(out_, &ov, any ? n : n * k, "out") : NULL;
            if (out) {
                Py_BEGIN_ALLOW_THREADS;
                for (Py_ssize_t i = 0; i < n; i++) {
                    int hit = 0;
                    for (Py_ssize_t j = 0; j < k; j++) {
                        int now = segment_blocked(s, which[j], starts + 3 * i, ends + 3 * i, standoff, convex);
                        if (!any)
                            out[i * k + j] = (unsigned char)now;
                        else if (now) {
                            hit = 1;
                            break;
                        }
                    }
                    if (any)
                        out[i] = (unsigned char)hit;
                }
                Py_END_ALLOW_THREADS;
                PyBuffer_Release(&ov);
                result = Py_NewRef(Py_None);
            }
            PyBuffer_Release(&wv);
        }
        PyBuffer_Release(&ev);
    }
    PyBuffer_Release(&sv);
    return result;
}

/* From the centreline to a solid's true surface; to the compartments' walls from within. */
static double surface_gap(const Scene *s, int64_t i, const double *p)
{
    if (s->kind[i] != ROOMS)
        return fabs(distance(s, i, p) + s->keep_off[i]);
    double deep = -INFINITY;
    for (int64_t j = s->solids; j < s->total; j++) {
        double inside = -distance(s, j, p) - s->keep_off[j];
        if (!(inside <= deep))
            deep = inside;
    }
    return fabs(deep);
}

/* Marched by what the distance allows: from a place with a gap of 90 mm nothing comes within 40 mm for 50 mm. */
static void bare_segment(const Scene *s, const double *start, const double *end, const int64_t *near, Py_ssize_t nears,
                         double reach, double *out)
{
    enum { SHORTEST_UM = 3000 };
    double way[3], length = 0;
    for (int c = 0; c < 3; c++) {
        way[c] = end[c] - start[c];
        length += way[c] * way[c];
    }
    length = sqrt(length);
    double head = INFINITY, inside = 0, held = 0, least_step = SHORTEST_UM * 1e-6;
    for (double along = 0; nears; ) {
        double share = length > 0 ? along / length : 0, gap = INFINITY;
        double p[3] = {start[0] + share * way[0], start[1] + share * way[1], start[2] + share * way[2]};
        for (Py_ssize_t j = 0; j < nears; j++) {
            double found = surface_gap(s, near[j], p);
            if (found < gap)
                gap = found;
        }
        if (gap <= reach) {
            if (!isfinite(head))
                head = along;
            else if (along - held > inside)
                inside = along - held;
        }
        double step = fabs(gap - reach);
        step = step > least_step ? step : least_step;
        if (gap <= reach) {
            /* it stays within reach for as long as it has reach to spare */
            held = along + (reach - gap);
            held = held < length ? held : length;
        }
        if (!(along < length))
            break;
        along = along + step < length ? along + step : length;
    }
    out[0] = head;
    out[1] = inside;
    out[2] = isfinite(head) ? length - held : INFINITY;
}

/* bare(scene, starts (n, 3), ends (n, 3), which (k), reach, out (n, 3)): of each segment what lies before the first
   place within reach of a surface, the longest stretch between two such places, and what lies behind the last. */
static PyObject *bare(PyObject *self, PyObject *args)
{
    PyObject *capsule, *starts_, *ends_, *which_, *out_, *result = NULL;
    double reach;
    Py_buffer sv, ev, wv, ov;
    if (!PyArg_ParseTuple(args, "OOOOdO", &capsule, &starts_, &ends_, &which_, &reach, &out_))
        return NULL;
    Scene *s = scene_of(capsule);
    if (!s)
        return NULL;
    if (!(reach >= 0 && reach < 1e6)) {
        PyErr_SetString(PyExc_ValueError, "reach: a length is wanted");
        return NULL;
    }
    Py_ssize_t n;
    double *starts = places(starts_, &sv, &n, "starts");
    if (!starts)
        return NULL;
    double *ends = items(ends_, &ev, 'd', 3 * n, 0, "ends");
    if (ends) {
        int sound = 1;
        for (Py_ssize_t i = 0; i < 3 * n; i++)
            sound = sound && fabs(starts[i]) < 1e6 && fabs(ends[i]) < 1e6;
        if (!sound)
            PyErr_SetString(PyExc_ValueError, "segments have numbers that cannot be");
        int64_t *which = sound ? items(which_, &wv, 'l', -1, 0, "which") : NULL;
        if (which) {
            Py_ssize_t k = wv.len / 8;
            double *out = known(s, which, k) ? items(out_, &ov, 'd', 3 * n, 1, "out") : NULL;
            if (out) {
                int64_t *near = malloc(sizeof(int64_t) * (size_t)(k + 1));
                if (near) {
                    Py_BEGIN_ALLOW_THREADS;
                    for (Py_ssize_t i = 0; i < n; i++) {
                        Py_ssize_t nears = 0;
                        for (Py_ssize_t j = 0; j < k; j++) {
                            double off = reach - s->keep_off[which[j]] + 1e-9;
                            if (segment_blocked(s, which[j], starts + 3 * i, ends + 3 * i, off, 0))
                                near[nears++] = which[j];
                        }
                        bare_segment(s, starts + 3 * i, ends + 3 * i, near, nears, reach, out + 3 * i);
                    }
                    Py_END_ALLOW_THREADS;
                    free(near);
                    result = Py_NewRef(Py_None);
                }
                else
                    PyErr_NoMemory();
                PyBuffer_Release(&ov);
            }
            PyBuffer_Release(&wv);
        }
        PyBuffer_Release(&ev);
    }
    PyBuffer_Release(&sv);
    return result;
}

/* near(low (k, 3), high (k, 3), reach (k), points (n, 3), out (k) bytes): whose bounding box lies within its reach of
   any of the points. */
static PyObject *near_boxes(PyObject *self, PyObject *args)
{
    enum { LOW, HIGH, REACH, POINTS, OUT, ALL };
    PyObject *object[ALL], *result = NULL;
    Py_buffer view[ALL];
    void *at[ALL];
    Py_ssize_t k = 0, n = 0;
    int held;
    if (!PyArg_ParseTuple(args, "OOOOO", &object[LOW], &object[HIGH], &object[REACH], &object[POINTS], &object[OUT]))
        return NULL;
    for (held = 0; held < ALL; held++) {
        at[held] = held == LOW      ? places(object[held], &view[held], &k, "low")
                   : held == POINTS ? places(object[held], &view[held], &n, "points")
                   : held == OUT    ? bytes(object[held], &view[held], k, "out")
                                    : items(object[held], &view[held], 'd', held == HIGH ? 3 * k : k, 0, "bounds");
        if (!at[held])
            break;
    }
    if (held == ALL) {
        const double *low = at[LOW], *high = at[HIGH], *reach = at[REACH], *points = at[POINTS];
        char *out = at[OUT];
        Py_BEGIN_ALLOW_THREADS;
        for (Py_ssize_t j = 0; j < k; j++) {
            out[j] = 0;
            for (Py_ssize_t i = 0; i < n && !out[j]; i++) {
                double square = 0;
                for (int c = 0; c < 3; c++) {
                    double p = points[3 * i + c], under = low[3 * j + c] - p, over = p - high[3 * j + c];
                    double gap = under > over ? under : over;
                    square += gap > 0 ? gap * gap : 0;
                }
                out[j] = sqrt(square) < reach[j];
            }
        }
        Py_END_ALLOW_THREADS;
        result = Py_NewRef(Py_None);
    }
    while (held--)
        PyBuffer_Release(&view[held]);
    return result;
}

enum { COLUMNS = 13 }; /* of a curve's table: end, before, curvature, straight, then origin, first and second (3 each) */

static void point_along(const double *table, Py_ssize_t pieces, double here, double *point)
{
    const double *piece = table, *last = table + COLUMNS * (pieces - 1);
    here = here < 0 ? 0 : here > last[0] ? last[0] : here;
    while (piece < last && piece[0] < here)
        piece += COLUMNS;
    double local = here - piece[1], turn = local * piece[2];
    /* a straight goes on along its second, an arc turns from its first towards it */
    double one = piece[3] != 0 ? 0 : cos(turn), two = piece[3] != 0 ? local : sin(turn);
    for (int c = 0; c < 3; c++)
        point[c] = piece[4 + c] + one * piece[7 + c] + two * piece[10 + c];
}

static double *curve_table(PyObject *object, Py_buffer *view, Py_ssize_t *pieces)
{
    double *table = items(object, view, 'd', -1, 0, "table");
    if (table && (view->len == 0 || view->len % (8 * COLUMNS))) {
        PyErr_Format(PyExc_ValueError, "table: %d numbers a piece are wanted", (int)COLUMNS);
        PyBuffer_Release(view);
        return NULL;
    }
    if (table)
        *pieces = view->len / (8 * COLUMNS);
    return table;
}

typedef struct {
    const Scene *s;
    const double *table;
    Py_ssize_t pieces;
    int64_t solid;
    double tolerance, enough;
    double least, place; /* so far, of all solids */
    int64_t to;
} Nearest;

static double gap_along(Nearest *n, double here)
{
    double point[3];
    point_along(n->table, n->pieces, here, point);
    double gap = distance(n->s, n->solid, point);
    if (gap < n->least) {
        n->least = gap;
        n->place = here;
        n->to = n->solid;
    }
    return gap;
}

/* Whoever moves a metre comes a metre nearer at most: a stretch that cannot hold a lesser distance is left alone. */
static void nearest_within(Nearest *n, double low, double high, double low_gap, double high_gap)
{
    double bound = (low_gap + high_gap - (high - low)) / 2;
    if (!(bound < n->least - n->tolerance) || n->least < n->enough)
        return;
    double middle = (low + high) / 2, gap = gap_along(n, middle);
    nearest_within(n, low, middle, low_gap, gap);
    nearest_within(n, middle, high, gap, high_gap);
}

/* least_along(scene, table (k, 13), from, to, which (n), tolerance, enough) -> least distance, where, to which */
static PyObject *least_along(PyObject *self, PyObject *args)
{
    PyObject *capsule, *table_, *which_, *result = NULL;
    double from, to;
    Nearest n = {.least = INFINITY, .to = -1};
    Py_buffer tv, wv;
    if (!PyArg_ParseTuple(args, "OOddOdd", &capsule, &table_, &from, &to, &which_, &n.tolerance, &n.enough))
        return NULL;
    n.s = scene_of(capsule);
    if (!n.s)
        return NULL;
    if (!(fabs(from) < 1e6 && fabs(to) < 1e6 && from <= to && n.tolerance >= 1e-9)) {
        PyErr_SetString(PyExc_ValueError, "a stretch from there to there, to that tolerance, cannot be looked at");
        return NULL;
    }
    n.table = curve_table(table_, &tv, &n.pieces);
    if (!n.table)
        return NULL;
    n.place = from;
    int64_t *which = items(which_, &wv, 'l', -1, 0, "which");
    if (which) {
        Py_ssize_t count = wv.len / 8;
        if (known(n.s, which, count)) {
            Py_BEGIN_ALLOW_THREADS;
            for (Py_ssize_t j = 0; j < count; j++) {
                n.solid = which[j];
                double low_gap = gap_along(&n, from), high_gap = gap_along(&n, to);
                nearest_within(&n, from, to, low_gap, high_gap);
            }
            Py_END_ALLOW_THREADS;
            result = Py_BuildValue("ddn", n.least, n.place, (Py_ssize_t)n.to);
        }
        PyBuffer_Release(&wv);
    }
    PyBuffer_Release(&tv);
    return result;
}

/* rods(points (n, 3), rods (m, 2, 3), out (n, m)): distance from each point to each rod. */
static PyObject *rods(PyObject *self, PyObject *args)
{
    PyObject *points_, *rods_, *out_, *result = NULL;
    Py_buffer pv, rv, ov;
    Py_ssize_t n, m;
    if (!PyArg_ParseTuple(args, "OOO", &points_, &rods_, &out_))
        return NULL;
    double *points = places(points_, &pv, &n, "points");
    if (!points)
        return NULL;
    double *ends = places(rods_, &rv, &m, "rods");
    if (ends && m % 2) {
        PyErr_SetString(PyExc_ValueError, "rods: two ends each are wanted");
        PyBuffer_Release(&rv);
        ends = NULL;
    }
    if (ends) {
        m /= 2;
        double *out = items(out_, &ov, 'd', n * m, 1, "out");
        if (out) {
            Py_BEGIN_ALLOW_THREADS;
            for (Py_ssize_t j = 0; j < m; j++) {
                const double *a = ends + 6 * j;
                double way[3] = {a[3] - a[0], a[4] - a[1], a[5] - a[2]};
                double square = way[0] * way[0] + way[1] * way[1] + way[2] * way[2];
                for (Py_ssize_t i = 0; i < n; i++) {
                    const double *p = points + 3 * i;
                    double off[3] = {p[0] - a[0], p[1] - a[1], p[2] - a[2]};
                    double share = (off[0] * way[0] + off[1] * way[1] + off[2] * way[2]) / square;
                    share = share < 0 ? 0 : share > 1 ? 1 : share;
                    double sum = 0;
                    for (int c = 0; c < 3; c++) {
                        double d = off[c] - share * way[c];
                        sum += d * d;
                    }
                    out[i * m + j] = sqrt(sum);
                }
            }
            Py_END_ALLOW_THREADS;
            PyBuffer_Release(&ov);
            result = Py_NewRef(Py_None);
        }
        PyBuffer_Release(&rv);
    }
    PyBuffer_Release(&pv);
    return result;
}

/* A field of single precision numbers, one a cell. */
static float *cells(PyObject *object, Py_buffer *view, const Py_ssize_t *size, int writable)
{
    for (int c = 0; c < 3; c++)
        if (size[c] < 2 || size[c] > MOST_SOLIDS) {
            PyErr_SetString(PyExc_ValueError, "field: two cells or more each way are wanted");
            return NULL;
        }
    if (PyObject_GetBuffer(object, view, PyBUF_C_CONTIGUOUS | PyBUF_FORMAT | (writable ? PyBUF_WRITABLE : 0)) < 0)
        return NULL;
    if (!view->format || strcmp(view->format, "f") || view->len / 4 != size[0] * size[1] * size[2]) {
        PyErr_SetString(PyExc_ValueError, "field: single precision numbers, one a cell, are wanted");
        PyBuffer_Release(view);
        return NULL;
    }
    return view->buf;
}

/* stamp(field (x, y, z) float32, x, y, z, places (n, 3) in cells, reach in cells, pitch, radius): no cell within reach
   of a place tells more than its distance from there, less the radius. */
static PyObject *stamp(PyObject *self, PyObject *args)
{
    PyObject *field_, *places_, *result = NULL;
    Py_buffer fv, pv;
    Py_ssize_t size[3], reach, n;
    double pitch, radius;
    if (!PyArg_ParseTuple(args, "OnnnOndd", &field_, &size[0], &size[1], &size[2], &places_, &reach, &pitch, &radius))
        return NULL;
    reach = reach < 0 ? 0 : reach > MOST_SOLIDS ? MOST_SOLIDS : reach; /* no grid is larger */
    float *field = cells(field_, &fv, size, 1);
    if (!field)
        return NULL;
    double *at = places(places_, &pv, &n, "places");
    if (at) {
        Py_BEGIN_ALLOW_THREADS;
        for (Py_ssize_t i = 0; i < n; i++) {
            Py_ssize_t first[3], last[3];
            int within = 1;
            for (int c = 0; c < 3; c++) {
                double near = rint(at[3 * i + c]);
                within = within && fabs(near) < 2.0 * MOST_SOLIDS;
                Py_ssize_t middle = within ? (Py_ssize_t)near : 0;
                first[c] = middle - reach > 0 ? middle - reach : 0;
                last[c] = middle + reach < size[c] - 1 ? middle + reach : size[c] - 1;
            }
            for (Py_ssize_t x = first[0]; within && x <= last[0]; x++)
                for (Py_ssize_t y = first[1]; y <= last[1]; y++)
                    for (Py_ssize_t z = first[2]; z <= last[2]; z++) {
                        double dx = (double)x - at[3 * i], dy = (double)y - at[3 * i + 1], dz = (double)z - at[3 * i + 2];
                        float apart = (float)(pitch * sqrt(dx * dx + dy * dy + dz * dz) - radius);
                        float *cell = field + (x * size[1] + y) * size[2] + z;
                        if (apart < *cell)
                            *cell = apart;
                    }
        }
        Py_END_ALLOW_THREADS;
        PyBuffer_Release(&pv);
        result = Py_NewRef(Py_None);
    }
    PyBuffer_Release(&fv);
    return result;
}

/* along(table (k, 13), distances (n), out (n, 3)): points of a curve of straights and arcs, see curve.py. */
static PyObject *along_curve(PyObject *self, PyObject *args)
{
    PyObject *table_, *wanted_, *out_, *result = NULL;
    Py_buffer tv, wv, ov;
    if (!PyArg_ParseTuple(args, "OOO", &table_, &wanted_, &out_))
        return NULL;
    Py_ssize_t k;
    double *table = curve_table(table_, &tv, &k);
    if (!table)
        return NULL;
    double *wanted = items(wanted_, &wv, 'd', -1, 0, "distances");
    if (wanted) {
        Py_ssize_t n = wv.len / 8;
        double *out = items(out_, &ov, 'd', 3 * n, 1, "out");
        if (out) {
            Py_BEGIN_ALLOW_THREADS;
            for (Py_ssize_t i = 0; i < n; i++)
                point_along(table, k, wanted[i], out + 3 * i);
            Py_END_ALLOW_THREADS;
            PyBuffer_Release(&ov);
            result = Py_NewRef(Py_None);
        }
        PyBuffer_Release(&wv);
    }
    PyBuffer_Release(&tv);
    return result;
}

/* between(field (x, y, z) float32, x, y, z, places (n, 3) in cells, out (n)): in proportion between eight cells. */
static PyObject *between_cells(PyObject *self, PyObject *args)
{
    PyObject *field_, *places_, *out_, *result = NULL;
    Py_buffer fv, pv, ov;
    Py_ssize_t size[3], n;
    if (!PyArg_ParseTuple(args, "OnnnOO", &field_, &size[0], &size[1], &size[2], &places_, &out_))
        return NULL;
    float *field = cells(field_, &fv, size, 0);
    if (!field)
        return NULL;
    double *at = places(places_, &pv, &n, "places");
    if (at) {
        double *out = items(out_, &ov, 'd', n, 1, "out");
        if (out) {
            Py_BEGIN_ALLOW_THREADS;
            for (Py_ssize_t i = 0; i < n; i++) {
                Py_ssize_t corner[3];
                double share[3], value = 0;
                for (int c = 0; c < 3; c++) {
                    double most = (double)size[c] - 1.001, p = at[3 * i + c];
                    p = p > 0 ? p : 0;
                    p = p < most ? p : most;
                    corner[c] = (Py_ssize_t)p;
                    share[c] = p - (double)corner[c];
                }
                for (int step = 0; step < 8; step++) {
                    int x = step >> 2, y = step >> 1 & 1, z = step & 1;
                    double part = (x ? share[0] : 1 - share[0]) * (y ? share[1] : 1 - share[1]) * (z ? share[2] : 1 - share[2]);
                    value += part * (double)field[((corner[0] + x) * size[1] + corner[1] + y) * size[2] + corner[2] + z];
                }
                out[i] = value;
            }
            Py_END_ALLOW_THREADS;
            PyBuffer_Release(&ov);
            result = Py_NewRef(Py_None);
        }
        PyBuffer_Release(&pv);
    }
    PyBuffer_Release(&fv);
    return result;
}

enum { UNKNOWN = 0, FREE = 1, HIDDEN = 2 };

typedef struct {
    const Scene *s;
    const double *points, *onward, *least, *dear;
    const int64_t *active;
    Py_ssize_t n, k;
    double standoff;
    int convex;
    double *reached;
    int64_t *before;
    char *settled, *seen; /* (n), (n, n) */
    Py_ssize_t hid_last;  /* what hid the last point most likely hides the next */
} Spread;

static int sees(Spread *g, Py_ssize_t one, Py_ssize_t two)
{
    char *seen = g->seen + one * g->n + two;
    if (*seen == UNKNOWN) {
        *seen = FREE;
        for (Py_ssize_t i = 0; i < g->k && *seen == FREE; i++) {
            Py_ssize_t j = (i + g->hid_last) % g->k;
            if (segment_blocked(g->s, g->active[j], g->points + 3 * one, g->points + 3 * two, g->standoff, g->convex)) {
                *seen = HIDDEN;
                g->hid_last = j;
            }
        }
        g->seen[two * g->n + one] = *seen;
    }
    return *seen == FREE;
}

/* Best first; ties go to the point that comes first. Returns the last point of the best way, -1 if there is none. */
static Py_ssize_t spread_out(Spread *g, double *best_length)
{
    Py_ssize_t n = g->n, last = -1;
    double best = INFINITY;
    for (Py_ssize_t round = 0; round < n; round++) {
        Py_ssize_t here = -1;
        double rank = best;
        for (Py_ssize_t i = 0; i < n; i++)
            if (!g->settled[i] && g->reached[i] + g->least[i] < rank) {
                rank = g->reached[i] + g->least[i];
                here = i;
            }
        if (here < 0)
            break;
        g->settled[here] = 1;
        if (g->reached[here] + g->onward[here] < best) {
            best = g->reached[here] + g->onward[here];
            last = here;
        }
        for (Py_ssize_t i = 0; i < n; i++) {
            if (g->settled[i])
                continue;
            double step = 0;
            for (int c = 0; c < 3; c++) {
                double d = g->points[3 * i + c] - g->points[3 * here + c];
                step += d * d;
            }
            double through = g->reached[here] + sqrt(step) + g->dear[i];
            if (through < g->reached[i] - 1e-9 && through + g->least[i] < best && sees(g, here, i)) {
                g->reached[i] = through;
                g->before[i] = here;
            }
        }
    }
    *best_length = best;
    return last;
}

/* spread(scene, points (n, 3), onward (n), least (n), dear (n), active (k), standoff, rooms_convex,
          reached (n), before (n), settled (n) bytes, seen (n, n) bytes) -> best length, last point; the last four change */
static PyObject *spread(PyObject *self, PyObject *args)
{
    enum { POINTS, ONWARD, LEAST, DEAR, ACTIVE, REACHED, BEFORE, SETTLED, SEEN, ALL };
    PyObject *object[ALL], *capsule, *result = NULL;
    Py_buffer view[ALL];
    void *at[ALL];
    double standoff;
    int convex, held = 0;
    if (!PyArg_ParseTuple(args, "OOOOOOdpOOOO", &capsule, &object[POINTS], &object[ONWARD], &object[LEAST],
                          &object[DEAR], &object[ACTIVE], &standoff, &convex, &object[REACHED], &object[BEFORE],
                          &object[SETTLED], &object[SEEN]))
        return NULL;
    Scene *s = scene_of(capsule);
    Py_ssize_t n = 0;
    if (!s || !(at[POINTS] = places(object[POINTS], &view[POINTS], &n, "points")))
        return NULL;
    for (held = 1; held < ALL; held++) {
        int changes = held >= REACHED;
        if (held < SETTLED)
            at[held] = items(object[held], &view[held], held == ACTIVE || held == BEFORE ? 'l' : 'd',
                             held == ACTIVE ? -1 : n, changes, "way points");
        else
            at[held] = bytes(object[held], &view[held], held == SEEN ? n * n : n, "way points");
        if (!at[held])
            break;
    }
    if (held == ALL && known(s, at[ACTIVE], view[ACTIVE].len / 8)) {
        Spread g = {s,  at[POINTS], at[ONWARD], at[LEAST], at[DEAR],    at[ACTIVE], n, view[ACTIVE].len / 8, standoff,
                    convex, at[REACHED], at[BEFORE], at[SETTLED], at[SEEN], 0};
        Py_ssize_t last;
        double best;
        Py_BEGIN_ALLOW_THREADS;
        last = spread_out(&g, &best);
        Py_END_ALLOW_THREADS;
        result = Py_BuildValue("dn", best, last);
    }
    while (held--)
        PyBuffer_Release(&view[held]);
    return result;
}

/* The u >= 0 with least u.Q.u / 2 - c.u, by the active sets of Lawson and Hanson (1974), chapter 23.
   non_negative(Q (n, n), c (n), out (n)) -> whether it settled. */
static int solve(double *m, double *b, int n)
{
    for (int i = 0; i < n; i++) {
        int best = i;
        for (int r = i + 1; r < n; r++)
            if (fabs(m[r * n + i]) > fabs(m[best * n + i]))
                best = r;
        if (m[best * n + i] == 0)
            return 0;
        if (best != i) {
            for (int c = i; c < n; c++) {
                double t = m[i * n + c];
                m[i * n + c] = m[best * n + c];
                m[best * n + c] = t;
            }
            double t = b[i];
            b[i] = b[best];
            b[best] = t;
        }
        for (int r = i + 1; r < n; r++) {
            double f = m[r * n + i] / m[i * n + i];
            if (f != 0) {
                for (int c = i; c < n; c++)
                    m[r * n + c] -= f * m[i * n + c];
                b[r] -= f * b[i];
            }
        }
    }
    for (int i = n - 1; i >= 0; i--) {
        for (int c = i + 1; c < n; c++)
            b[i] -= m[i * n + c] * b[c];
        b[i] /= m[i * n + i];
    }
    return 1;
}

/* The square is either given whole, `q` (n, n) symmetric; or its rows are made in `q` when they are first asked for, as
   products of the vectors whose components stand in the rows of `across` (wide, n). Few ever are. */
static int settle(double *q, const double *across, int wide, const double *linear, double *weights, int n, int *chosen,
                  char *state, char *made, double *part, double *wanted, double *slope)
{
    /* state: 0 open, 1 chosen, 2 barred */
    int count = 0;
    double top = 0;
    for (int i = 0; i < n; i++) {
        weights[i] = 0;
        state[i] = 0;
        made[i] = across == NULL;
        if (fabs(linear[i]) > top)
            top = fabs(linear[i]);
    }
    double tolerance = 1e-11 * (1 + top);
    for (int round = 0; round < 3 * n + 10; round++) {
        int best = -1;
        double most = tolerance;
        memcpy(slope, linear, sizeof(double) * (size_t)n);
        for (int j = 0; j < count; j++) {
            const double *row = q + (size_t)chosen[j] * n, weight = weights[chosen[j]];
            for (int i = 0; i < n; i++)
                slope[i] -= row[i] * weight;
        }
        for (int i = 0; i < n; i++)
            if (!state[i] && slope[i] > most) {
                most = slope[i];
                best = i;
            }
        if (best < 0)
            return 1;
        if (!made[best]) {
            double *row = q + (size_t)best * n;
            memset(row, 0, sizeof(double) * (size_t)n);
            for (int c = 0; c < wide; c++) {
                const double *all = across + (size_t)c * n, own = all[best];
                for (int i = 0; own != 0 && i < n; i++)
                    row[i] += own * all[i];
            }
            made[best] = 1;
        }
        chosen[count++] = best;
        state[best] = 1;
        while (count) {
            for (int i = 0; i < count; i++) {
                for (int j = 0; j < count; j++)
                    part[i * count + j] = q[(size_t)chosen[i] * n + chosen[j]] + (i == j ? 1e-13 : 0);
                wanted[i] = linear[chosen[i]];
            }
            if (!solve(part, wanted, count))
                return 0;
            if (wanted[count - 1] <= 0 && chosen[count - 1] == best) { /* rounding only: it cannot help */
                count--;
                state[best] = 2;
                break;
            }
            double share = INFINITY;
            int tightest = -1;
            for (int i = 0; i < count; i++)
                if (wanted[i] <= 0) {
                    double now = weights[chosen[i]], fall = now - wanted[i];
                    double part_way = now / (fall > 1e-300 ? fall : 1e-300);
                    if (part_way < share) {
                        share = part_way;
                        tightest = i;
                    }
                }
            if (tightest < 0) {
                for (int i = 0; i < n; i++) {
                    weights[i] = 0;
                    if (state[i] == 2)
                        state[i] = 0;
                }
                for (int i = 0; i < count; i++)
                    weights[chosen[i]] = wanted[i];
                break;
            }
            int kept = 0;
            for (int i = 0; i < count; i++) {
                int c = chosen[i];
                double moved = weights[c] + share * (wanted[i] - weights[c]);
                if (i == tightest || (wanted[i] <= 0 && moved <= 1e-15)) {
                    weights[c] = 0;
                    state[c] = 0;
                }
                else {
                    weights[c] = moved;
                    chosen[kept++] = c;
                }
            }
            count = kept;
        }
    }
    return 0;
}

static PyObject *non_negative(PyObject *self, PyObject *args)
{
    PyObject *q_, *c_, *out_;
    Py_buffer qv, cv, ov;
    if (!PyArg_ParseTuple(args, "OOO", &q_, &c_, &out_))
        return NULL;
    double *c = items(c_, &cv, 'd', -1, 0, "linear");
    if (!c)
        return NULL;
    PyObject *result = NULL;
    Py_ssize_t n = cv.len / 8;
    double *q = n < 4096 ? items(q_, &qv, 'd', n * n, 0, "square") : NULL;
    if (q) {
        double *out = items(out_, &ov, 'd', n, 1, "out");
        if (out) {
            int *chosen = malloc(sizeof(int) * (size_t)(n + 1));
            char *state = malloc((size_t)n + 1), *made = malloc((size_t)n + 1);
            double *part = malloc(sizeof(double) * (size_t)(n * n + 1)), *wanted = malloc(sizeof(double) * (size_t)(n + 1));
            double *slope = malloc(sizeof(double) * (size_t)(n + 1));
            if (chosen && state && made && part && wanted && slope) {
                int settled;
                Py_BEGIN_ALLOW_THREADS;
                settled = settle(q, NULL, 0, c, out, (int)n, chosen, state, made, part, wanted, slope);
                Py_END_ALLOW_THREADS;
                result = PyBool_FromLong(settled);
            }
            else
                PyErr_NoMemory();
            free(chosen);
            free(state);
            free(made);
            free(part);
            free(wanted);
            free(slope);
            PyBuffer_Release(&ov);
        }
        PyBuffer_Release(&qv);
    }
    else if (!PyErr_Occurred())
        PyErr_SetString(PyExc_ValueError, "too many demands");
    PyBuffer_Release(&cv);
    return result;
}

#include "_polish.h"
#include "_reach.h"

static PyMethodDef methods[] = {
    {"scene", make_scene, METH_VARARGS, "Pack a scene."},
    {"distances", distances, METH_VARARGS, "Distances from points to solids, less their keep-off."},
    {"pairs", pairs, METH_VARARGS, "Distance from each point to its own solid, less its keep-off."},
    {"blocked", blocked, METH_VARARGS, "Which segments come nearer than the standoff to which solids."},
    {"bare", bare, METH_VARARGS, "How far segments go without anything within reach."},
    {"near", near_boxes, METH_VARARGS, "Which bounding boxes lie near any of the points."},
    {"along", along_curve, METH_VARARGS, "Points of a curve of straights and arcs."},
    {"least_along", least_along, METH_VARARGS, "The least distance from a stretch of a curve to solids."},
    {"rods", rods, METH_VARARGS, "Distances from points to straight rods."},
    {"stamp", stamp, METH_VARARGS, "Distances round places, written into a field on a grid."},
    {"between", between_cells, METH_VARARGS, "A field on a grid, in proportion between its cells."},
    {"spread", spread, METH_VARARGS, "Best-first search over way points that see each other."},
    {"non_negative", non_negative, METH_VARARGS, "Least u.Q.u / 2 - c.u with u not below zero."},
    {"reach", reach, METH_VARARGS, "Least lengths among nodes that barriers do not hide from each other."},
    {"polish", polish_run, METH_VARARGS, "Pull a rounded polyline taut."},
    {NULL, NULL, 0, NULL},
};

static struct PyModuleDef module = {PyModuleDef_HEAD_INIT, "geometry._kernel", "Distances and blocked segments.", -1,
                                    methods, NULL, NULL, NULL, NULL};

PyMODINIT_FUNC PyInit__kernel(void)
{
    return PyModule_Create(&module);
}
