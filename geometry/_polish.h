/* Pulling a rounded polyline taut: geometry/polish.py, compiled. Step for step the same method; what comes out is
   certified elsewhere, so neither of the two is trusted. Included by _kernel.c. */

enum { MOST_CORNERS = 40, MOST_PLACES = 600, MOST_PIECE = 400 };
enum { UNKNOWNS = 4 * MOST_CORNERS };
enum { TRIED_STEPS = 10 }; /* before a run may be given up */

typedef struct {
    const double *point, *way; /* (3) each */
    double straight, lift_off;
    const int64_t *own; /* solids the stud stands on */
    const double *lies; /* how near the lug lies to each; infinite if the cable is clear at once */
    Py_ssize_t owns;
} Foot;

typedef struct {
    const Scene *s;
    Foot start, finish;
    int corners, places, count;
    double standoff, radius, margin, sample;
    /* the rules of polish.py, in its words */
    double grows, watched, most_turn, widest, least_price, most_price, nudge, hair, worth, astray, hopeless;
    int wide;
} Job;

typedef struct {
    double vertex[MOST_CORNERS + 2][3], way[MOST_CORNERS + 1][3];
    double leg[MOST_CORNERS + 1], radius[MOST_CORNERS], turn[MOST_CORNERS], tangent[MOST_CORNERS];
    double length;
} Line;

typedef struct {
    int piece;
    double share, spare;
    int64_t solid;
} Place;

typedef struct {
    Line line;
    double trespass;
    int places;
    Place place[MOST_PLACES];
} Measured;

static double dot(const double *a, const double *b)
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static void lay_line(const Job *job, const double *values, Line *line)
{
    int k = job->corners;
    for (int c = 0; c < 3; c++) {
        line->vertex[0][c] = job->start.point[c];
        line->vertex[1][c] = job->start.point[c] + values[0] * job->start.way[c];
        for (int i = 2; i < k; i++)
            line->vertex[i][c] = values[1 + 3 * (i - 2) + c];
        line->vertex[k][c] = job->finish.point[c] + values[job->places - 1] * job->finish.way[c];
        line->vertex[k + 1][c] = job->finish.point[c];
    }
    line->length = 0;
    for (int j = 0; j <= k; j++) {
        double step[3];
        for (int c = 0; c < 3; c++)
            step[c] = line->vertex[j + 1][c] - line->vertex[j][c];
        line->leg[j] = sqrt(dot(step, step));
        double size = line->leg[j] > 1e-12 ? line->leg[j] : 1e-12;
        for (int c = 0; c < 3; c++)
            line->way[j][c] = step[c] / size;
        line->length += line->leg[j];
    }
    for (int i = 0; i < k; i++) {
        double over[3], under[3];
        for (int c = 0; c < 3; c++) {
            over[c] = line->way[i + 1][c] - line->way[i][c];
            under[c] = line->way[i + 1][c] + line->way[i][c];
        }
        double cosine = sqrt(dot(under, under));
        double slope = sqrt(dot(over, over)) / (cosine > 1e-3 ? cosine : 1e-3);
        double radius = values[job->places + i];
        line->radius[i] = radius > 1e-6 ? radius : 1e-6;
        line->turn[i] = 2 * atan(slope);
        line->tangent[i] = line->radius[i] * slope;
        line->length -= 2 * line->tangent[i] - line->radius[i] * line->turn[i];
    }
}

static double straight_of(const Job *job, const Line *line, int j)
{
    double rest = line->leg[j];
    if (j > 0)
        rest -= line->tangent[j - 1];
    if (j < job->corners)
        rest -= line->tangent[j];
    return rest;
}

static double piece_length(const Job *job, const Line *line, int piece)
{
    return piece % 2 ? line->radius[piece / 2] * line->turn[piece / 2] : straight_of(job, line, piece / 2);
}

static void point_on(const Job *job, const Line *line, int piece, double share, double *p)
{
    int i = piece / 2;
    if (piece % 2 == 0) {
        double first = i > 0 ? line->tangent[i - 1] : 0, last = i < job->corners ? line->tangent[i] : 0;
        double along = first + share * (line->leg[i] - first - last);
        for (int c = 0; c < 3; c++)
            p[c] = line->vertex[i][c] + along * line->way[i][c];
        return;
    }
    double turn = line->turn[i], here = share * turn, sine = sin(turn), cosine = cos(turn);
    double ahead = line->radius[i] * sin(here), half = sin(here / 2), aside = 2 * line->radius[i] * half * half;
    if (sine < 1e-9)
        sine = 1e-9;
    for (int c = 0; c < 3; c++) {
        double before = line->way[i][c], side = (line->way[i + 1][c] - cosine * before) / sine;
        p[c] = line->vertex[i + 1][c] - line->tangent[i] * before + ahead * before + aside * side;
    }
}

/* Clearance asked of the centreline so far along, to this solid. */
static double needed(const Job *job, double along, double length, int64_t solid)
{
    double back = length - along, beyond = along - job->start.straight;
    if (back - job->finish.straight < beyond)
        beyond = back - job->finish.straight;
    double share = beyond / job->grows;
    double asked = job->standoff + job->margin * (share < 0 ? 0 : share > 1 ? 1 : share);
    for (int e = 0; e < 2; e++) {
        const Foot *foot = e ? &job->finish : &job->start;
        double from = e ? back : along;
        for (Py_ssize_t i = 0; i < foot->owns; i++) {
            if (foot->own[i] != solid)
                continue;
            if (isfinite(foot->lies[i]) && from <= foot->lift_off && foot->lies[i] < asked)
                asked = foot->lies[i];
            if (from <= foot->straight + 1e-9)
                asked = -INFINITY;
        }
    }
    return asked;
}

/* Demands met when not below zero: k + 1 straights, k turns. */
static void fits_of(const Job *job, const Line *line, const double *values, double *fits)
{
    int k = job->corners;
    for (int j = 0; j <= k; j++)
        fits[j] = straight_of(job, line, j) - job->hair;
    fits[0] += values[0] - line->leg[0] - job->start.straight;
    fits[k] += values[job->places - 1] - line->leg[k] - job->finish.straight;
    for (int i = 0; i < k; i++)
        fits[k + 1 + i] = job->radius * (job->most_turn - line->turn[i]);
}

static void add_place(Measured *m, int piece, double share, int64_t solid, double spare)
{
    if (m->places < MOST_PLACES) {
        Place place = {piece, share, spare, solid};
        m->place[m->places++] = place;
    }
}

/* near (nears): the solids looked at; balls (nears, 4): one round each, with its keep-off */
static void measure(const Job *job, const double *values, const int64_t *near, const double *balls, Py_ssize_t nears,
                    Measured *m, double *spare, Place *ends)
{
    double fits[2 * MOST_CORNERS + 1];
    int pieces = 2 * job->corners + 1;
    lay_line(job, values, &m->line);
    fits_of(job, &m->line, values, fits);
    double least = INFINITY, before = 0;
    for (int i = 0; i < pieces; i++)
        if (fits[i] < least)
            least = fits[i];
    m->places = 0;
    int count_ends = 0;
    for (int piece = 0; piece < pieces; piece++) {
        double length = piece_length(job, &m->line, piece);
        double full = length > 0 ? length : 0;
        int count = (int)ceil(full / job->sample) + 1;
        count = count < 2 ? 2 : count > MOST_PIECE ? MOST_PIECE : count;
        double step = full / (count - 1), p[MOST_PIECE][3], middle[3];
        for (int i = 0; i < count; i++)
            point_on(job, &m->line, piece, (double)i / (count - 1), p[i]);
        point_on(job, &m->line, piece, 0.5, middle);
        double far = job->standoff + job->margin + job->watched + full / 2 + 1e-9;
        for (Py_ssize_t j = 0; j < nears; j++) {
            /* no place of the piece is near enough to be watched: most solids are far from most pieces */
            const double *ball = balls + 4 * j;
            double off[3] = {middle[0] - ball[0], middle[1] - ball[1], middle[2] - ball[2]};
            if (dot(off, off) > (ball[3] + far) * (ball[3] + far) || distance(job->s, near[j], middle) > far)
                continue;
            for (int i = 0; i < count;) {
                double gap = distance(job->s, near[j], p[i]);
                spare[i] = gap - needed(job, before + length * i / (count - 1), m->line.length, near[j]);
                /* the next ones cannot be near enough to be watched */
                double free = gap - job->standoff - job->margin - job->watched;
                double steps = step > 0 ? free / step : 0;
                int skip = steps > count ? count : steps > 1 ? (int)steps : 0;
                for (i++; skip > 1 && i < count - 1; i++, skip--)
                    spare[i] = INFINITY;
            }
            for (int i = 0; i < count; i++) {
                if (spare[i] < least)
                    least = spare[i];
                double share = (double)i / (count - 1);
                if (i == 0 || i == count - 1) {
                    if (spare[i] < job->watched / 2 && count_ends < MOST_PLACES) {
                        Place end = {piece, share, spare[i], near[j]};
                        ends[count_ends++] = end;
                    }
                    continue;
                }
                if (!(spare[i] < job->watched && spare[i] <= spare[i - 1] && spare[i] < spare[i + 1]))
                    continue;
                /* the nearest place, sought between the samples */
                double best = spare[i], width = job->sample / (length > 1e-9 ? length : 1e-9);
                width = width < 1 ? width : 1;
                for (int round = 0; round < 2; round++, width /= 4) {
                    double middle = share;
                    for (int t = 0; t < 7; t++) {
                        double tried = middle + (-0.75 + 0.25 * t) * width, q[3];
                        tried = tried < 0 ? 0 : tried > 1 ? 1 : tried;
                        point_on(job, &m->line, piece, tried, q);
                        double found = distance(job->s, near[j], q) -
                                       needed(job, before + tried * length, m->line.length, near[j]);
                        if (found < best) {
                            best = found;
                            share = tried;
                        }
                    }
                }
                if (best < least)
                    least = best;
                add_place(m, piece, share, near[j], best);
            }
        }
        before += length;
    }
    for (int i = 0; i < count_ends; i++)
        add_place(m, ends[i].piece, ends[i].share, ends[i].solid, ends[i].spare);
    m->trespass = least < 0 ? -least : 0;
}

static void slope_at(const Job *job, int64_t solid, const double *p, double *slope)
{
    double step = 1e-6;
    for (int c = 0; c < 3; c++) {
        double ahead[3] = {p[0], p[1], p[2]}, behind[3] = {p[0], p[1], p[2]};
        ahead[c] += step;
        behind[c] -= step;
        slope[c] = (distance(job->s, solid, ahead) - distance(job->s, solid, behind)) / (2 * step);
    }
    double size = sqrt(dot(slope, slope));
    size = size > 0.3 ? size : 0.3;
    for (int c = 0; c < 3; c++)
        slope[c] /= size;
}

/* Room for one step's equations. */
typedef struct {
    double *demand, *least, *hessian, *gradient, *inverse, *across, *turned, *square, *linear, *weights, *part, *wanted, *open;
    int *chosen;
    char *state, *made;
    Line *nudged;
} Work;

enum { MOST_ROWS = MOST_PLACES + 4 * MOST_CORNERS + 2 };

static void free_work(Work *w)
{
    free(w->demand);
    free(w->least);
    free(w->hessian);
    free(w->gradient);
    free(w->inverse);
    free(w->across);
    free(w->turned);
    free(w->square);
    free(w->linear);
    free(w->weights);
    free(w->part);
    free(w->wanted);
    free(w->open);
    free(w->chosen);
    free(w->state);
    free(w->made);
    free(w->nudged);
}

static int make_work(Work *w, int unknowns)
{
    size_t n = (size_t)unknowns + 1, m = MOST_ROWS;
    memset(w, 0, sizeof *w);
    w->demand = malloc(m * n * 8);
    w->least = malloc(m * 8);
    w->hessian = malloc(n * n * 8);
    w->gradient = malloc(n * 8);
    w->inverse = malloc(n * n * 8);
    w->across = malloc(m * (n + 1) * 8);
    w->turned = malloc(n * n * 8);
    w->square = malloc(m * m * 8);
    w->linear = malloc(m * 8);
    w->weights = malloc(m * 8);
    w->part = malloc(m * m * 8);
    w->wanted = malloc(m * 8);
    w->open = malloc(m * 8);
    w->chosen = malloc(m * sizeof(int));
    w->state = malloc(m);
    w->made = malloc(m);
    w->nudged = malloc(sizeof(Line));
    return w->demand && w->least && w->hessian && w->gradient && w->inverse && w->across && w->turned && w->square &&
           w->linear && w->weights && w->part && w->wanted && w->open && w->chosen && w->state && w->made && w->nudged;
}

/* x with least x.H.x / 2 + g.x among those with demands @ x >= least: least distance programming, Lawson and Hanson
   (1974), chapter 23, as in least_change.py. Returns whether there is one. */
static int least_change(Work *w, int n, int m, double *x)
{
    double *h = w->hessian, *inv = w->inverse;
    for (int j = 0; j < n; j++) { /* Cholesky, in place */
        double d = h[j * n + j];
        for (int q = 0; q < j; q++)
            d -= h[j * n + q] * h[j * n + q];
        if (!(d > 0))
            return 0;
        d = sqrt(d);
        h[j * n + j] = d;
        for (int i = j + 1; i < n; i++) {
            double t = h[i * n + j];
            for (int q = 0; q < j; q++)
                t -= h[i * n + q] * h[j * n + q];
            h[i * n + j] = t / d;
        }
    }
    memset(inv, 0, sizeof(double) * (size_t)(n * n));
    for (int c = 0; c < n; c++)
        for (int r = c; r < n; r++) {
            double t = r == c ? 1 : 0;
            for (int q = c; q < r; q++)
                t -= h[r * n + q] * inv[q * n + c];
            inv[r * n + c] = t / h[r * n + r];
        }
    double free_[UNKNOWNS + 1];
    for (int r = 0; r < n; r++) {
        free_[r] = 0;
        for (int c = 0; c <= r; c++)
            free_[r] += inv[r * n + c] * w->gradient[c];
    }
    /* each demand in the unknowns y = C' x + inverse g, of length one, with its bound: as columns, so that the products
       of one demand with all others run along memory. A demand feels few unknowns. */
    for (int r = 0; r < n; r++)
        for (int c = 0; c <= r; c++)
            w->turned[c * n + r] = inv[r * n + c];
    int wide = n + 1;
    for (int i = 0; i < m; i++) {
        double size = 0, bound = w->least[i], row[UNKNOWNS + 1];
        memset(row, 0, sizeof(double) * (size_t)n);
        for (int c = 0; c < n; c++) {
            double felt = w->demand[i * n + c];
            if (felt == 0)
                continue;
            for (int r = c; r < n; r++)
                row[r] += felt * w->turned[c * n + r];
        }
        for (int r = 0; r < n; r++) {
            size += row[r] * row[r];
            bound += row[r] * free_[r];
        }
        size = sqrt(size);
        size = size > 1e-12 ? size : 1e-12;
        for (int r = 0; r < n; r++)
            w->across[r * m + i] = row[r] / size;
        w->across[n * m + i] = w->linear[i] = bound / size;
    }
    if (!settle(w->square, w->across, wide, w->linear, w->weights, m, w->chosen, w->state, w->made, w->part, w->wanted,
                w->open))
        return 0;
    double rest[UNKNOWNS + 2] = {0};
    for (int i = 0; i < m; i++)
        if (w->weights[i] != 0)
            for (int c = 0; c < wide; c++)
                rest[c] += w->weights[i] * w->across[c * m + i];
    rest[n] -= 1;
    if (!(rest[n] <= -1e-12))
        return 0;
    for (int c = 0; c < n; c++) {
        double t = 0;
        for (int r = c; r < n; r++)
            t += inv[r * n + c] * (-rest[r] / rest[n] - free_[r]);
        x[c] = t;
        if (!isfinite(t))
            return 0;
    }
    return 1;
}

/* Which corner an unknown place moves, and which way. */
static void moves(const Job *job, int u, int *vertex, double *way)
{
    memset(way, 0, 3 * sizeof(double));
    if (u == 0) {
        *vertex = 1;
        memcpy(way, job->start.way, 3 * sizeof(double));
    }
    else if (u == job->places - 1) {
        *vertex = job->corners;
        memcpy(way, job->finish.way, 3 * sizeof(double));
    }
    else {
        *vertex = 2 + (u - 1) / 3;
        way[(u - 1) % 3] = 1;
    }
}

/* The pieces that change with an unknown: a corner moves its two legs, with them the bends at their ends, with those
   the straights beyond. */
static void changed_pieces(const Job *job, int u, int *first, int *last)
{
    if (u >= job->places) {
        *first = 2 * (u - job->places);
        *last = *first + 2;
    }
    else {
        int vertex;
        double way[3];
        moves(job, u, &vertex, way);
        *first = 2 * vertex - 4;
        *last = 2 * vertex + 2;
    }
}

/* The best small change of the unknowns, and by how much it should still trespass; 0: no such change. */
static int best_change(const Job *job, const double *values, const Measured *now, double damping, double price,
                       int astray, Work *w, double *change, double *missed)
{
    int k = job->corners, count = job->count, n = count + 1, fits = 2 * k + 1, places = now->places;
    int rows = fits + places + 2 * k + 1;
    double first[2 * MOST_CORNERS + 1], other[2 * MOST_CORNERS + 1], moved[UNKNOWNS];
    double slope[MOST_PLACES][3], at_place[MOST_PLACES][3];
    memset(w->demand, 0, sizeof(double) * (size_t)(rows * n));
    fits_of(job, &now->line, values, first);
    for (int i = 0; i < fits; i++)
        w->least[i] = -first[i];
    for (int i = 0; i < places; i++) {
        point_on(job, &now->line, now->place[i].piece, now->place[i].share, at_place[i]);
        slope_at(job, now->place[i].solid, at_place[i], slope[i]);
        w->least[fits + i] = -now->place[i].spare;
    }
    memcpy(moved, values, sizeof(double) * (size_t)count);
    for (int u = 0; u < count; u++) {
        moved[u] = values[u] + job->nudge;
        lay_line(job, moved, w->nudged);
        fits_of(job, w->nudged, moved, other);
        w->gradient[u] = astray ? 0 : (w->nudged->length - now->line.length) / job->nudge;
        for (int i = 0; i < fits; i++)
            w->demand[i * n + u] = (other[i] - first[i]) / job->nudge;
        int from, to;
        changed_pieces(job, u, &from, &to);
        for (int i = 0; i < places; i++) {
            double q[3];
            if (now->place[i].piece < from || now->place[i].piece > to)
                continue;
            point_on(job, w->nudged, now->place[i].piece, now->place[i].share, q);
            for (int c = 0; c < 3; c++)
                q[c] -= at_place[i][c];
            w->demand[(fits + i) * n + u] = dot(q, slope[i]) / job->nudge;
        }
        moved[u] = values[u];
    }
    for (int i = 0; i < fits + places; i++)
        w->demand[i * n + count] = 1; /* one more unknown: how far all demands together are missed */
    for (int i = 0; i < k; i++) {
        int row = fits + places + 2 * i;
        double radius = values[job->places + i];
        w->demand[row * n + job->places + i] = 1;
        w->least[row] = job->radius - radius;
        w->demand[(row + 1) * n + job->places + i] = -1;
        w->least[row + 1] = radius - job->radius * (job->wide ? job->widest : 1);
    }
    w->demand[(rows - 1) * n + count] = 1;
    w->least[rows - 1] = 0;
    memset(w->hessian, 0, sizeof(double) * (size_t)(n * n));
    if (!astray)
        for (int u = 0; u < job->places; u++)
            for (int v = 0; v <= u; v++) {
                int one, two;
                double a[3], b[3], sum = 0;
                moves(job, u, &one, a);
                moves(job, v, &two, b);
                for (int j = 0; j <= k; j++) { /* leg j runs from vertex j to vertex j + 1 */
                    double sa = one == j + 1 ? 1 : one == j ? -1 : 0, sb = two == j + 1 ? 1 : two == j ? -1 : 0;
                    if (sa == 0 || sb == 0)
                        continue;
                    const double *way = now->line.way[j];
                    double leg = now->line.leg[j] > 0.02 ? now->line.leg[j] : 0.02;
                    sum += sa * sb * (dot(a, b) - dot(a, way) * dot(b, way)) / leg;
                }
                w->hessian[u * n + v] = w->hessian[v * n + u] = sum;
            }
    for (int u = 0; u < count; u++)
        w->hessian[u * n + u] += damping + (u >= job->places ? 0.2 : 0);
    w->hessian[count * n + count] = 1;
    w->gradient[count] = price;
    double x[UNKNOWNS + 1];
    if (!least_change(w, n, rows, x))
        return 0;
    memcpy(change, x, sizeof(double) * (size_t)count);
    *missed = x[count] > 0 ? x[count] : 0;
    return 1;
}

static Py_ssize_t find_near(const Job *job, const double *values, Line *line, double reach, int64_t *near,
                            double *balls)
{
    Py_ssize_t found = 0;
    int k = job->corners;
    lay_line(job, values, line);
    for (int64_t i = 0; i < job->s->solids; i++) {
        int is = job->s->kind[i] == ROOMS;
        const double *a = job->s->axes + 9 * i, *c = job->s->centre + 3 * i, *half = job->s->half + 3 * i;
        for (int j = 0; j <= k && !is; j++) {
            /* distance to the solid's own box, marched along the leg: it changes no faster than the point moves */
            for (double along = 0; along <= line->leg[j];) {
                double square = 0;
                for (int r = 0; r < 3; r++) {
                    double own = -c[r];
                    for (int q = 0; q < 3; q++)
                        own += a[3 * r + q] * (line->vertex[j][q] + along * line->way[j][q]);
                    double out = fabs(own) - half[r];
                    if (out > 0)
                        square += out * out;
                }
                double gap = sqrt(square) - job->s->keep_off[i];
                if (gap < reach) {
                    is = 1;
                    break;
                }
                along += gap - reach > 0.005 ? gap - reach : 0.005;
            }
        }
        if (!is)
            continue;
        for (int q = 0; q < 3; q++)
            balls[4 * found + q] = a[q] * c[0] + a[3 + q] * c[1] + a[6 + q] * c[2];
        double round = sqrt(dot(half, half)) + job->s->keep_off[i];
        balls[4 * found + 3] = job->s->kind[i] == ROOMS ? INFINITY : round > 0 ? round : 0;
        near[found++] = i;
    }
    return found;
}

static int polish(const Job *job, double *values, int steps, double *trespass)
{
    int count = job->count, k = job->corners;
    int64_t *near = malloc(sizeof(int64_t) * (size_t)(job->s->solids + 1));
    double *spare = malloc(sizeof(double) * MOST_PIECE);
    double *balls = malloc(4 * sizeof(double) * (size_t)(job->s->solids + 1));
    Place *ends = malloc(sizeof(Place) * MOST_PLACES);
    Measured *now = malloc(sizeof *now), *best = malloc(sizeof *best);
    Line *centre = malloc(sizeof *centre), *moved = malloc(sizeof *moved);
    double *past = malloc(sizeof(double) * (size_t)(steps > 0 ? steps : 1));
    Work w;
    int good = make_work(&w, count) && near && balls && spare && ends && now && best && centre && moved && past;
    if (good) {
        double best_values[UNKNOWNS], change[UNKNOWNS], missed;
        double reach = job->standoff + job->watched + 0.1;
        Py_ssize_t nears = find_near(job, values, centre, reach, near, balls);
        memcpy(best_values, values, sizeof(double) * (size_t)count);
        measure(job, values, near, balls, nears, now, spare, ends);
        *best = *now;
        double damping = 1, price = job->most_price;
        int idle = 0, loose = 0;
        for (int step = 0; step < steps; step++) {
            past[step] = best->trespass;
            if (step >= TRIED_STEPS && best->trespass > job->hopeless && best->trespass > past[step / 2] / 2)
                break;
            int astray = now->trespass > job->astray;
            if (!best_change(job, values, now, damping, price, astray, &w, change, &missed)) {
                damping *= 8;
                if (damping > 1e7)
                    break;
                continue;
            }
            if (missed > 1e-6 && !astray)
                price = 3 * price < job->most_price ? 3 * price : job->most_price;
            double largest = 0;
            for (int u = 0; u < job->places; u++)
                if (fabs(change[u]) > largest)
                    largest = fabs(change[u]);
            for (int u = 0; u < count; u++)
                values[u] += largest > 0.1 ? change[u] * (0.1 / largest) : change[u];
            lay_line(job, values, moved);
            double gone = 0;
            for (int i = 0; i < k + 2; i++)
                for (int c = 0; c < 3; c++)
                    if (fabs(moved->vertex[i][c] - centre->vertex[i][c]) > gone)
                        gone = fabs(moved->vertex[i][c] - centre->vertex[i][c]);
            if (gone > 0.08) {
                nears = find_near(job, values, centre, reach, near, balls);
                measure(job, best_values, near, balls, nears, best, spare, ends);
            }
            measure(job, values, near, balls, nears, now, spare, ends);
            double gain = price * (best->trespass - now->trespass);
            if (best->trespass <= job->astray)
                gain += best->line.length - now->line.length;
            if (gain > 0) {
                *best = *now;
                memcpy(best_values, values, sizeof(double) * (size_t)count);
                loose = 0;
                damping = damping / 5 > 0.05 ? damping / 5 : 0.05;
                idle = gain < job->worth ? idle + 1 : 0;
                if (now->trespass < 1e-4)
                    price = job->least_price;
            }
            else if (loose < 2 && now->trespass < 2 * job->astray)
                loose++;
            else {
                idle++;
                *now = *best;
                memcpy(values, best_values, sizeof(double) * (size_t)count);
                loose = 0;
                damping *= 8;
            }
            if ((idle >= 3 && best->trespass < 1e-5) || idle >= 8)
                break;
        }
        memcpy(values, best_values, sizeof(double) * (size_t)count);
        *trespass = best->trespass;
    }
    free_work(&w);
    free(near);
    free(balls);
    free(spare);
    free(ends);
    free(now);
    free(best);
    free(centre);
    free(moved);
    free(past);
    return good;
}

/* polish(scene, corners, values (count), ends (16): point, way, straight, lift-off of start and finish,
          start own, start lies, finish own, finish lies, rules (15), steps, wide) -> trespass; values change */
static PyObject *polish_run(PyObject *self, PyObject *args)
{
    PyObject *capsule, *values_, *ends_, *object[4], *rules_;
    int corners, steps, wide;
    if (!PyArg_ParseTuple(args, "OiOOOOOOOip", &capsule, &corners, &values_, &ends_, &object[0], &object[1],
                          &object[2], &object[3], &rules_, &steps, &wide))
        return NULL;
    Scene *s = scene_of(capsule);
    if (!s)
        return NULL;
    if (corners < 2 || corners > MOST_CORNERS) {
        PyErr_Format(PyExc_ValueError, "a run of %d corners: 2 to %d are possible", corners, MOST_CORNERS);
        return NULL;
    }
    Job job = {.s = s, .corners = corners, .places = 3 * corners - 4, .count = 4 * corners - 4, .wide = wide};
    Py_buffer vv, ev, rv, ov[4];
    int held = 0;
    PyObject *result = NULL;
    double *values = items(values_, &vv, 'd', job.count, 1, "values");
    if (!values)
        return NULL;
    double *ends = items(ends_, &ev, 'd', 16, 0, "ends");
    double *rules = ends ? items(rules_, &rv, 'd', 15, 0, "rules") : NULL;
    if (rules) {
        void *buffer[4] = {NULL, NULL, NULL, NULL};
        for (; held < 4; held++) {
            Py_ssize_t wanted = held % 2 ? ov[held - 1].len / 8 : -1;
            buffer[held] = items(object[held], &ov[held], held % 2 ? 'd' : 'l', wanted, 0, "own");
            if (!buffer[held])
                break;
        }
        if (held == 4) {
            Foot start = {ends, ends + 3, ends[6], ends[7], buffer[0], buffer[1], ov[0].len / 8};
            Foot finish = {ends + 8, ends + 11, ends[14], ends[15], buffer[2], buffer[3], ov[2].len / 8};
            job.start = start;
            job.finish = finish;
            double *to[15] = {&job.standoff,  &job.radius, &job.margin,      &job.sample,     &job.grows,
                              &job.watched,   &job.most_turn, &job.widest,   &job.least_price, &job.most_price,
                              &job.nudge,     &job.hair,   &job.worth,       &job.astray, &job.hopeless};
            for (int i = 0; i < 15; i++)
                *to[i] = rules[i];
            double trespass = INFINITY;
            int good = job.sample > 0 && job.nudge > 0 && job.grows > 0;
            for (int i = 0; i < 15; i++)
                good = good && isfinite(rules[i]);
            for (int i = 0; i < 16; i++)
                good = good && fabs(ends[i]) < 1e6;
            for (int i = 0; i < job.count; i++)
                good = good && fabs(values[i]) < 1e6;
            if (good) {
                Py_BEGIN_ALLOW_THREADS;
                good = polish(&job, values, steps, &trespass);
                Py_END_ALLOW_THREADS;
                result = good ? PyFloat_FromDouble(trespass) : PyErr_NoMemory();
            }
            else
                PyErr_SetString(PyExc_ValueError, "a run to be pulled taut has numbers that cannot be");
        }
        for (int i = 0; i < held; i++)
            PyBuffer_Release(&ov[i]);
        PyBuffer_Release(&rv);
    }
    if (ends)
        PyBuffer_Release(&ev);
    PyBuffer_Release(&vv);
    return result;
}
