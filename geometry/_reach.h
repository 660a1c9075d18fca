/* How short can a way among barriers be at least? Distances between nodes that are whole stretches, not points.

   A node is a straight piece a to b, thickened by eta. Two nodes do not see each other if one convex barrier cuts every
   segment between them. What is not proved hidden is taken as seen, so the lengths found are never too long.
   `geometry/lower_bound.py` holds the reasoning; `geometry/reach.py` makes the tables. */

enum { NODE = 7, ROW = 4, FRAME = 12, BALL = 4 };
enum { PIECE = 0, SOURCE = 1, SINK = 2 };
enum { BODY = 0, SHEET = 1 };

typedef struct {
    Py_ssize_t n, stride, barriers, from_feet, to_feet;
    const double *nodes, *mid; /* (n, 7) a, b, eta; (n, 4) middle and half length with eta */
    const char *role;
    const int64_t *foot;
    const double *first, *floor_from, *floor_to, *direct, *onward;
    const int64_t *kind, *first_group, *first_row;
    const double *rows, *frames, *balls;
    double limit;
    double *reached;
    int64_t *before;
    signed char *seen;
} Reach;

static double clip01(double v)
{
    return v < 0 ? 0 : v > 1 ? 1 : v;
}

/* Between two segments, by their nearest points; a hair short, so that rounding never makes it too long. */
static double between_segments(const double *p, const double *q)
{
    double u[3], v[3], w[3], s, t, square = 0;
    for (int c = 0; c < 3; c++) {
        u[c] = p[3 + c] - p[c];
        v[c] = q[3 + c] - q[c];
        w[c] = p[c] - q[c];
    }
    double a = dot3(u, u), b = dot3(u, v), e = dot3(v, v), c0 = dot3(u, w), f = dot3(v, w);
    if (a < 1e-18 && e < 1e-18) {
        s = t = 0;
    } else if (a < 1e-18) {
        s = 0;
        t = clip01(f / e);
    } else if (e < 1e-18) {
        t = 0;
        s = clip01(-c0 / a);
    } else {
        double below = a * e - b * b;
        s = below > 1e-14 * a * e ? clip01((b * f - c0 * e) / below) : 0;
        t = (b * s + f) / e;
        if (t < 0 || t > 1) {
            t = clip01(t);
            s = clip01((b * t - c0) / a);
        }
    }
    for (int c = 0; c < 3; c++) {
        double d = w[c] + s * u[c] - t * v[c];
        square += d * d;
    }
    return fmax(0, sqrt(square) - 1e-7);
}

/* At one and the same share of the way all segments are inside the body: linear in the share for every face. */
static int body_hides(const Reach *g, Py_ssize_t barrier, const double *p, const double *q)
{
    double low = 0, high = 1;
    int64_t group = g->first_group[barrier];
    for (int64_t r = g->first_row[group]; r < g->first_row[group + 1]; r++) {
        const double *row = g->rows + ROW * r;
        double one = fmax(dot3(row, p), dot3(row, p + 3)) + p[6] - row[3] + 1e-9;
        double two = fmax(dot3(row, q), dot3(row, q + 3)) + q[6] - row[3] + 1e-9;
        if (one >= 0 && two >= 0)
            return 0;
        if (one >= 0)
            low = fmax(low, one / (one - two));
        else if (two >= 0)
            high = fmin(high, one / (one - two));
        if (high - low <= 1e-7)
            return 0;
    }
    return 1;
}

/* All segments cross the sheet's plane within the hull of four places: is that in the sheet and in none of its holes? */
static int sheet_hides(const Reach *g, Py_ssize_t barrier, const double *p, const double *q)
{
    const double *frame = g->frames + FRAME * barrier; /* origin, two axes across, the axis through */
    double x[4][3], place[4][2];
    const double *ends[4] = {p, p + 3, q, q + 3};
    for (int i = 0; i < 4; i++) {
        double out[3] = {ends[i][0] - frame[0], ends[i][1] - frame[1], ends[i][2] - frame[2]};
        for (int c = 0; c < 3; c++)
            x[i][c] = dot3(out, frame + 3 + 3 * c);
    }
    double side = x[0][2] + x[1][2] > x[2][2] + x[3][2] ? 1 : -1, least = INFINITY, widest = 0;
    double near_one = fmin(side * x[0][2], side * x[1][2]) - p[6], near_two = fmin(-side * x[2][2], -side * x[3][2]) - q[6];
    if (near_one < -1e-9 || near_two < -1e-9) /* what touches the sheet is on the side where the rest of it is */
        return 0;
    for (int i = 0; i < 2; i++)
        for (int j = 2; j < 4; j++) {
            if (fabs(x[i][2] - x[j][2]) < 1e-8 + p[6] + q[6])
                return 0;
            double share = clip01(x[i][2] / (x[i][2] - x[j][2])), *at = place[2 * i + j - 2];
            for (int c = 0; c < 2; c++)
                at[c] = x[i][c] + share * (x[j][c] - x[i][c]);
            least = fmin(least, fabs(x[i][2] - x[j][2]));
            widest = fmax(widest, hypot(x[i][0] - x[j][0], x[i][1] - x[j][1]));
        }
    double eta = fmax(p[6], q[6]);
    /* ends moved by eta move the crossing by eta, and then along the segment back into the plane */
    double spread = eta > 0 ? eta * (1 + (widest + 2 * eta) / (least - p[6] - q[6])) : 0;
    int64_t first = g->first_group[barrier], last = g->first_group[barrier + 1];
    for (int64_t group = first; group < last; group++) {
        int apart = 0;
        for (int64_t r = g->first_row[group]; r < g->first_row[group + 1] && !apart; r++) {
            const double *row = g->rows + ROW * r;
            double top = -INFINITY, bottom = INFINITY;
            for (int i = 0; i < 4; i++) {
                double over = row[0] * place[i][0] + row[1] * place[i][1] - row[3];
                top = fmax(top, over);
                bottom = fmin(bottom, over);
            }
            if (group == first && top + spread >= -1e-9)
                return 0;
            if (group > first && bottom - spread > 1e-9)
                apart = 1;
        }
        if (group > first && !apart)
            return 0;
    }
    return 1;
}

static int hidden_by(const Reach *g, Py_ssize_t barrier, Py_ssize_t one, Py_ssize_t two)
{
    const double *p = g->nodes + NODE * one, *q = g->nodes + NODE * two, *ball = g->balls + BALL * barrier;
    /* quickly: does the middle segment come near the barrier at all? */
    const double *m = g->mid + 4 * one, *k = g->mid + 4 * two;
    double u[3] = {k[0] - m[0], k[1] - m[1], k[2] - m[2]}, w[3] = {ball[0] - m[0], ball[1] - m[1], ball[2] - m[2]};
    double length = dot3(u, u), share = length > 0 ? clip01(dot3(u, w) / length) : 0, square = 0;
    for (int c = 0; c < 3; c++) {
        double d = w[c] - share * u[c];
        square += d * d;
    }
    if (square > ball[3] * ball[3])
        return 0;
    return g->kind[barrier] == BODY ? body_hides(g, barrier, p, q) : sheet_hides(g, barrier, p, q);
}

/* seen: how many of the barriers are known not to hide the pair; -1: hidden. */
static int may_see(const Reach *g, Py_ssize_t one, Py_ssize_t two)
{
    signed char *seen = g->seen + one * g->stride + two;
    while (*seen >= 0 && *seen < g->barriers)
        *seen = hidden_by(g, *seen, one, two) ? -1 : *seen + 1;
    g->seen[two * g->stride + one] = *seen;
    return *seen >= 0;
}

static double reach_out(const Reach *g, char *settled, Py_ssize_t *last)
{
    double best = INFINITY;
    *last = -1;
    for (;;) {
        Py_ssize_t here = -1;
        double least = INFINITY;
        for (Py_ssize_t i = 0; i < g->n; i++)
            if (!settled[i] && g->role[i] != SINK && g->reached[i] < least) {
                least = g->reached[i];
                here = i;
            }
        if (here < 0)
            break;
        settled[here] = 1;
        const double *m = g->mid + 4 * here;
        for (Py_ssize_t i = 0; i < g->n; i++) {
            if (settled[i] || g->role[i] == SOURCE)
                continue;
            if (g->role[i] == PIECE && g->role[here] == PIECE && g->foot[i] == g->foot[here])
                continue; /* of one edge */
            const double *k = g->mid + 4 * i;
            double x = k[0] - m[0], y = k[1] - m[1], z = k[2] - m[2];
            double step = sqrt(x * x + y * y + z * z) - m[3] - k[3], rest = g->onward[i], floor = 0;
            if (g->role[i] == SINK) {
                rest = g->first[i];
                floor = g->role[here] == SOURCE ? g->direct[g->foot[here] * g->to_feet + g->foot[i]]
                                                : least + g->floor_to[g->foot[i] * g->n + here];
            } else if (g->role[here] == SOURCE)
                floor = g->floor_from[g->foot[here] * g->n + i];
            double most = fmin(g->limit, g->role[i] == SINK ? g->reached[i] : g->reached[i] + rest);
            if (fmax(floor + (g->role[i] == SINK ? 0 : rest), least + fmax(step, 0) + rest) >= most - 1e-10)
                continue;
            step = fmax(0, between_segments(g->nodes + NODE * here, g->nodes + NODE * i) - g->nodes[NODE * here + 6] -
                               g->nodes[NODE * i + 6]);
            double through = fmax(floor, least + step + (g->role[i] == SINK ? rest : 0));
            if (through + (g->role[i] == SINK ? 0 : rest) >= most - 1e-10 || !may_see(g, here, i))
                continue;
            g->reached[i] = through;
            g->before[i] = here;
            if (g->role[i] == SINK && through < best) {
                best = through;
                *last = i;
            }
        }
    }
    return best;
}

/* reach(nodes (n, 7), mid (n, 4), role (n) bytes, foot (n), first (n), floor_from (f, n), floor_to (t, n),
         direct (f, t), onward (n), kind (m), first_group (m + 1), first_row, rows (r, 4), frames (m, 12), balls (m, 4),
         limit, reached (n), before (n), seen (s, s) bytes) -> least, last node; the last three change */
static PyObject *reach(PyObject *self, PyObject *args)
{
    enum { NODES, MID, ROLE, FOOT, FIRST, FROM, TO, DIRECT, ONWARD, KIND, GROUPS, ROWS_AT, ROWS, FRAMES, BALLS, REACHED, BEFORE, SEEN, ALL };
    static const char form[] = "ddblddddd" "lllddd" "dlb";
    PyObject *object[ALL], *result = NULL;
    Py_buffer view[ALL];
    void *at[ALL];
    double limit;
    int held = 0, good = 1;
    if (!PyArg_ParseTuple(args, "OOOOOOOOOOOOOOOdOOO", &object[0], &object[1], &object[2], &object[3], &object[4],
                          &object[5], &object[6], &object[7], &object[8], &object[9], &object[10], &object[11],
                          &object[12], &object[13], &object[14], &limit, &object[15], &object[16], &object[17]))
        return NULL;
    for (; held < ALL; held++) {
        at[held] = form[held] == 'b' ? bytes(object[held], &view[held], PyObject_Length(object[held]) * (held == SEEN ? PyObject_Length(object[held]) : 1), "nodes")
                                     : items(object[held], &view[held], form[held], -1, held >= REACHED, "nodes");
        if (!at[held])
            break;
    }
    if (held == ALL) {
        Py_ssize_t n = view[ROLE].len, m = view[KIND].len / 8, stride = (Py_ssize_t)sqrt((double)view[SEEN].len + 0.5);
        Py_ssize_t doubles[] = {NODE * n, 4 * n, -1, n, n, -1, -1, -1, n, m, m + 1, -1, -1, FRAME * m, BALL * m, n, n, -1};
        for (int i = 0; i < ALL; i++)
            if (doubles[i] >= 0 && view[i].len / 8 != doubles[i])
                good = 0;
        const int64_t *groups = at[GROUPS], *rows_at = at[ROWS_AT], *foot = at[FOOT], *kind = at[KIND];
        const char *role = at[ROLE];
        Py_ssize_t group_count = view[ROWS_AT].len / 8 - 1, row_count = view[ROWS].len / 8 / ROW;
        Py_ssize_t from = n ? view[FROM].len / 8 / n : 0, to = n ? view[TO].len / 8 / n : 0;
        good = good && n > 0 && m < 127 && stride >= n && group_count >= 0 && view[DIRECT].len / 8 == from * to;
        for (Py_ssize_t i = 0; good && i < m; i++)
            good = (kind[i] == BODY || kind[i] == SHEET) && groups[i] >= 0 && groups[i] < groups[i + 1] &&
                   groups[i + 1] <= group_count;
        for (Py_ssize_t i = 0; good && i < group_count; i++)
            good = rows_at[i] >= 0 && rows_at[i] <= rows_at[i + 1] && rows_at[i + 1] <= row_count;
        for (Py_ssize_t i = 0; good && i < n; i++)
            good = role[i] >= PIECE && role[i] <= SINK && foot[i] >= 0 &&
                   (role[i] == PIECE || foot[i] < (role[i] == SOURCE ? from : to));
        char *settled = good ? calloc(n, 1) : NULL;
        if (!good)
            PyErr_SetString(PyExc_ValueError, "reach: the tables do not fit each other");
        else if (!settled)
            PyErr_NoMemory();
        else {
            Reach g = {n,          stride,        m,          from,          to,       at[NODES], at[MID],
                       role,       foot,          at[FIRST],  at[FROM],      at[TO],   at[DIRECT], at[ONWARD],
                       kind,       groups,        rows_at,    at[ROWS],      at[FRAMES], at[BALLS], limit,
                       at[REACHED], at[BEFORE],   at[SEEN]};
            Py_ssize_t last;
            double best;
            Py_BEGIN_ALLOW_THREADS;
            best = reach_out(&g, settled, &last);
            Py_END_ALLOW_THREADS;
            free(settled);
            result = Py_BuildValue("dn", best, last);
        }
    }
    while (held--)
        PyBuffer_Release(&view[held]);
    return result;
}
