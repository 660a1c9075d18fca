/* Distance to bodies of triangles, see mesh_tree.py: box 2 k + 1 and box 2 k + 2 hold the first and the second half of
   the triangles of box k. Included by _kernel.c after its Scene. */

enum { FACET = 30, LEAF = 4 };

typedef struct {
    const double *facets, *boxes, *point;
    double square;        /* of the least distance so far */
    const double *normal; /* of the surface at the nearest place */
    double off[3];        /* from there to the point */
} NearestFacet;

static int64_t boxes_needed(int64_t facets)
{
    int64_t count = 1;
    while (facets > LEAF) {
        count = 2 * count + 1;
        facets = (facets + 1) / 2;
    }
    return count;
}

static double dot3(const double *a, const double *b)
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/* The nearest place of a triangle by the part of space the point is in: 0 its face, 1 to 3 a side, 4 to 6 a corner. */
static void try_facet(NearestFacet *n, const double *f)
{
    const double *a = f, *b = f + 3, *c = f + 6, *p = n->point;
    double ab[3], ac[3], ap[3], bp[3], cp[3], off[3];
    for (int i = 0; i < 3; i++) {
        ab[i] = b[i] - a[i];
        ac[i] = c[i] - a[i];
        ap[i] = p[i] - a[i];
        bp[i] = p[i] - b[i];
        cp[i] = p[i] - c[i];
    }
    double d1 = dot3(ab, ap), d2 = dot3(ac, ap), d3 = dot3(ab, bp), d4 = dot3(ac, bp), d5 = dot3(ab, cp), d6 = dot3(ac, cp);
    double va = d3 * d6 - d5 * d4, vb = d5 * d2 - d1 * d6, vc = d1 * d4 - d3 * d2;
    double v = 0, w = 0;
    int part;
    if (d1 <= 0 && d2 <= 0)
        part = 4;
    else if (d3 >= 0 && d4 <= d3) {
        part = 5;
        v = 1;
    }
    else if (vc <= 0 && d1 >= 0 && d3 <= 0) {
        part = 1;
        v = d1 - d3 != 0 ? d1 / (d1 - d3) : 0;
    }
    else if (d6 >= 0 && d5 <= d6) {
        part = 6;
        w = 1;
    }
    else if (vb <= 0 && d2 >= 0 && d6 <= 0) {
        part = 3;
        w = d2 - d6 != 0 ? d2 / (d2 - d6) : 0;
    }
    else if (va <= 0 && d4 >= d3 && d5 >= d6) {
        double along = d4 - d3 + (d5 - d6);
        part = 2;
        w = along != 0 ? (d4 - d3) / along : 0;
        v = 1 - w;
    }
    else {
        double whole = va + vb + vc;
        part = 0;
        v = whole != 0 ? vb / whole : 0;
        w = whole != 0 ? vc / whole : 0;
    }
    for (int i = 0; i < 3; i++)
        off[i] = ap[i] - v * ab[i] - w * ac[i];
    double square = dot3(off, off);
    if (!(square >= n->square)) { /* so that what is no number stays none */
        n->square = square;
        n->normal = f + 9 + 3 * part;
        memcpy(n->off, off, sizeof off);
    }
}

static double square_to_box(const double *box, const double *p)
{
    double square = 0;
    for (int i = 0; i < 3; i++) {
        double out = box[i] - p[i] > p[i] - box[3 + i] ? box[i] - p[i] : p[i] - box[3 + i];
        square += out > 0 ? out * out : 0;
    }
    return square;
}

static void nearest_facet(NearestFacet *n, int64_t box, int64_t low, int64_t high)
{
    if (high - low <= LEAF) {
        for (int64_t i = low; i < high; i++)
            try_facet(n, n->facets + FACET * i);
        return;
    }
    int64_t half = low + (high - low + 1) / 2;
    double one = square_to_box(n->boxes + 6 * (2 * box + 1), n->point);
    double two = square_to_box(n->boxes + 6 * (2 * box + 2), n->point);
    if (one <= two) {
        if (!(one >= n->square))
            nearest_facet(n, 2 * box + 1, low, half);
        if (!(two >= n->square))
            nearest_facet(n, 2 * box + 2, half, high);
    }
    else {
        if (!(two >= n->square))
            nearest_facet(n, 2 * box + 2, half, high);
        if (!(one >= n->square))
            nearest_facet(n, 2 * box + 1, low, half);
    }
}

/* To the nearest of the solid's bodies, negative within one; the sign from the normal at the nearest place. */
static double mesh_distance(const Scene *s, int64_t i, const double *p)
{
    double found = INFINITY;
    for (int64_t body = s->first_body[i]; body < s->first_body[i + 1]; body++) {
        NearestFacet n = {s->facets + FACET * s->first_facet[body], s->boxes + 6 * s->first_box[body], p, INFINITY, NULL, {0}};
        if (found > 0 && square_to_box(n.boxes, p) >= found * found)
            continue;
        nearest_facet(&n, 0, 0, s->first_facet[body + 1] - s->first_facet[body]);
        double here = n.normal && dot3(n.off, n.normal) < 0 ? -sqrt(n.square) : sqrt(n.square);
        if (!(here >= found))
            found = here;
    }
    return found;
}
