/* The table behind the prices of pieces: bounded knapsack over bundles, for all capacities at once.

   The same additions and comparisons, in the same order, as the numpy code in knapsack.py: the answers are equal to
   the last bit. One pass over the table for each bundle, in blocks that a compiler can do several cells at once. */

#define PY_SSIZE_T_CLEAN
#include <Python.h>
#include <stdint.h>
#include <string.h>

#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3", "no-trapping-math")
#endif

/* Where the linker can choose by processor, a second version with wider registers is built. */
#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__gnu_linux__)
#define WIDE __attribute__((target_clones("avx2", "default")))
#else
#define WIDE
#endif

#define BLOCK 1024 /* cells at a time, which stay near the processor between the two loops */

/* From the far end down, so that no bundle is taken twice; a block no longer than the width reads only what is still
   as it was. */
#define FILL(NAME, NUMBER)                                                                                            \
    WIDE static void NAME(const int64_t *widths, const NUMBER *worths, Py_ssize_t bundles, NUMBER *restrict best,     \
                          unsigned char *restrict taken, Py_ssize_t cells)                                            \
    {                                                                                                                 \
        NUMBER with[BLOCK];                                                                                           \
        for (Py_ssize_t b = 0; b < bundles; b++, taken += cells) {                                                    \
            Py_ssize_t width = (Py_ssize_t)widths[b], most = width < BLOCK ? width : BLOCK;                           \
            NUMBER worth = worths[b];                                                                                 \
            for (Py_ssize_t end = cells; end > width; end -= most) {                                                  \
                Py_ssize_t first = end - most > width ? end - most : width, n = end - first;                          \
                NUMBER *here = best + first;                                                                          \
                const NUMBER *below = here - width;                                                                   \
                unsigned char *flags = taken + first;                                                                 \
                for (Py_ssize_t c = 0; c < n; c++)                                                                    \
                    with[c] = below[c] + worth;                                                                       \
                for (Py_ssize_t c = 0; c < n; c++)                                                                    \
                    flags[c] = with[c] > here[c];                                                                     \
                for (Py_ssize_t c = 0; c < n; c++)                                                                    \
                    here[c] = with[c] > here[c] ? with[c] : here[c];                                                  \
            }                                                                                                         \
            memset(taken, 0, (size_t)width);                                                                          \
        }                                                                                                             \
    }

FILL(fill_floats, double)
FILL(fill_whole, int64_t)

static int shaped(const Py_buffer *view, char kind, const char *name)
{
    const char *format = view->format ? view->format : "B";
    int fits = kind == 'd'   ? strcmp(format, "d") == 0
               : kind == 'i' ? (strcmp(format, "l") == 0 || strcmp(format, "q") == 0) && view->itemsize == 8
                             : (strcmp(format, "?") == 0 || strcmp(format, "B") == 0);
    if (!fits)
        PyErr_Format(PyExc_TypeError, "%s: numbers of another kind (%s)", name, format);
    return fits;
}

static PyObject *fill(PyObject *module, PyObject *const *args, Py_ssize_t given)
{
    static const char *names[4] = {"widths", "worths", "best", "taken"};
    Py_buffer views[4];
    int held = 0, good = 0;
    if (given != 4) {
        PyErr_SetString(PyExc_TypeError, "fill(widths, worths, best, taken)");
        return NULL;
    }
    for (; held < 4; held++) {
        int flags = PyBUF_C_CONTIGUOUS | PyBUF_FORMAT | (held < 2 ? 0 : PyBUF_WRITABLE);
        if (PyObject_GetBuffer(args[held], &views[held], flags) < 0)
            goto end;
    }
    char kind = views[1].format && strcmp(views[1].format, "d") == 0 ? 'd' : 'i';
    if (!shaped(&views[0], 'i', names[0]) || !shaped(&views[3], 'b', names[3]))
        goto end;
    for (int k = 1; k < 3; k++)
        if (!shaped(&views[k], kind, names[k]))
            goto end;
    Py_ssize_t bundles = views[0].len / 8, cells = views[2].len / 8;
    if (views[1].len / 8 != bundles || (cells && views[3].len / cells != bundles) || views[3].len != bundles * cells) {
        PyErr_SetString(PyExc_ValueError, "tables of sizes that do not fit each other");
        goto end;
    }
    const int64_t *widths = views[0].buf;
    for (Py_ssize_t b = 0; b < bundles; b++)
        if (widths[b] < 1 || widths[b] >= cells) {
            PyErr_Format(PyExc_ValueError, "bundle %zd: width %lld outside of the table", b, (long long)widths[b]);
            goto end;
        }
    Py_BEGIN_ALLOW_THREADS
    if (kind == 'd')
        fill_floats(widths, views[1].buf, bundles, views[2].buf, views[3].buf, cells);
    else
        fill_whole(widths, views[1].buf, bundles, views[2].buf, views[3].buf, cells);
    Py_END_ALLOW_THREADS
    good = 1;
end:
    for (int k = 0; k < held; k++)
        PyBuffer_Release(&views[k]);
    if (!good)
        return NULL;
    Py_RETURN_NONE;
}

static PyMethodDef methods[] = {
    {"fill", (PyCFunction)(void (*)(void))fill, METH_FASTCALL,
     "fill(widths, worths, best, taken): best as knapsack.py describes it; taken[bundle, capacity]."},
    {NULL, NULL, 0, NULL}};

static struct PyModuleDef definition = {PyModuleDef_HEAD_INIT, "_knapsack", NULL, -1, methods, NULL, NULL, NULL, NULL};

PyMODINIT_FUNC PyInit__knapsack(void)
{
    return PyModule_Create(&definition);
}
