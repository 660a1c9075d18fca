/* One container more, for many questions at once: the step that one_more.py describes.

   The same additions and comparisons as the numpy code there; whole numbers, so the answers are equal to the last bit.
   A few questions at a time, packed side by side, so that a whole table stays near the processor. */

#define PY_SSIZE_T_CLEAN
#include <Python.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3")
#endif

/* Where the linker can choose by processor, a second version with wider registers is built. */
#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__gnu_linux__)
#define WIDE __attribute__((target_clones("avx2", "default")))
#else
#define WIDE
#endif

#define LANES 8  /* questions at a time */
#define KINDS 32 /* of piece, at most */

/* after[rest + part] = min(after[rest + part], least[rest] + cost) for every rest that still has room for the part. */
WIDE static void put(const int64_t *restrict cost, const int64_t *restrict least, int64_t *restrict after, const Py_ssize_t *sizes,
                     const Py_ssize_t *strides, const Py_ssize_t *part, Py_ssize_t shift, int kinds)
{
    Py_ssize_t at[KINDS] = {0}, rest = 0, run = sizes[kinds - 1] - part[kinds - 1];
    for (;;) {
        const int64_t *from = least + rest * LANES;
        int64_t *to = after + (rest + shift) * LANES;
        for (Py_ssize_t i = 0; i < run; i++)
            for (int j = 0; j < LANES; j++) {
                int64_t with = from[i * LANES + j] + cost[j];
                to[i * LANES + j] = with < to[i * LANES + j] ? with : to[i * LANES + j];
            }
        int k = kinds - 2;
        for (; k >= 0; k--) {
            rest += strides[k];
            if (++at[k] < sizes[k] - part[k])
                break;
            rest -= at[k] * strides[k];
            at[k] = 0;
        }
        if (k < 0)
            return;
    }
}

static void pack(const int64_t *table, int64_t *block, Py_ssize_t states, Py_ssize_t questions, Py_ssize_t first,
                 Py_ssize_t count, int64_t rest)
{
    for (Py_ssize_t s = 0; s < states; s++)
        for (Py_ssize_t j = 0; j < LANES; j++)
            block[s * LANES + j] = j < count ? table[s * questions + first + j] : rest;
}

static void open_more(const int64_t *least, const int64_t *cost, int64_t *after, const Py_ssize_t *sizes, int kinds,
                      Py_ssize_t states, Py_ssize_t questions, int64_t impossible, int64_t *room)
{
    Py_ssize_t strides[KINDS], part[KINDS];
    int64_t *from = room, *costs = room + states * LANES, *to = room + 2 * states * LANES;
    strides[kinds - 1] = 1;
    for (int k = kinds - 2; k >= 0; k--)
        strides[k] = strides[k + 1] * sizes[k + 1];
    for (Py_ssize_t first = 0; first < questions; first += LANES) {
        Py_ssize_t count = questions - first < LANES ? questions - first : LANES;
        pack(least, from, states, questions, first, count, impossible);
        pack(cost, costs, states, questions, first, count, impossible);
        pack(after, to, states, questions, first, count, impossible);
        for (Py_ssize_t p = 1; p < states; p++) {
            int some = 0;
            for (int j = 0; j < LANES; j++)
                some |= costs[p * LANES + j] < impossible;
            if (!some)
                continue;
            for (int k = 0; k < kinds; k++)
                part[k] = p / strides[k] % sizes[k];
            put(costs + p * LANES, from, to, sizes, strides, part, p, kinds);
        }
        for (Py_ssize_t s = 0; s < states; s++)
            for (Py_ssize_t j = 0; j < count; j++) {
                int64_t found = to[s * LANES + j];
                after[s * questions + first + j] = found < impossible / 2 ? found : impossible;
            }
    }
}

static int whole(const Py_buffer *view, const char *name)
{
    const char *format = view->format ? view->format : "B";
    int fits = (strcmp(format, "l") == 0 || strcmp(format, "q") == 0) && view->itemsize == 8;
    if (!fits)
        PyErr_Format(PyExc_TypeError, "%s: numbers of another kind (%s)", name, format);
    return fits;
}

static PyObject *add(PyObject *module, PyObject *const *args, Py_ssize_t given)
{
    static const char *names[3] = {"least", "cost", "after"};
    Py_buffer views[3];
    int held = 0, good = 0;
    int64_t *room = NULL;
    if (given != 4) {
        PyErr_SetString(PyExc_TypeError, "add(least, cost, after, impossible)");
        return NULL;
    }
    int64_t impossible = PyLong_AsLongLong(args[3]);
    if (impossible == -1 && PyErr_Occurred())
        return NULL;
    for (; held < 3; held++)
        if (PyObject_GetBuffer(args[held], &views[held],
                               PyBUF_C_CONTIGUOUS | PyBUF_FORMAT | (held < 2 ? 0 : PyBUF_WRITABLE)) < 0)
            goto end;
    for (int i = 0; i < 3; i++)
        if (!whole(&views[i], names[i]))
            goto end;
    int kinds = views[0].ndim - 1;
    if (kinds < 1 || kinds > KINDS) {
        PyErr_Format(PyExc_ValueError, "tables of 1 to %d kinds of piece are known, not of %d", KINDS, kinds);
        goto end;
    }
    for (int i = 1; i < 3; i++)
        if (views[i].ndim != views[0].ndim ||
            memcmp(views[i].shape, views[0].shape, (size_t)(kinds + 1) * sizeof(Py_ssize_t)) != 0) {
            PyErr_SetString(PyExc_ValueError, "tables of sizes that do not fit each other");
            goto end;
        }
    if (impossible < 1 || impossible > ((int64_t)1 << 61)) { /* two of them must add up */
        PyErr_SetString(PyExc_ValueError, "impossible: no such cost");
        goto end;
    }
    Py_ssize_t questions = views[0].shape[kinds];
    if (views[0].len == 0) {
        good = 1;
        goto end;
    }
    Py_ssize_t states = views[0].len / 8 / questions;
    room = PyMem_Malloc((size_t)states * 3 * LANES * sizeof(int64_t));
    if (room == NULL) {
        PyErr_NoMemory();
        goto end;
    }
    Py_BEGIN_ALLOW_THREADS
    open_more(views[0].buf, views[1].buf, views[2].buf, views[0].shape, kinds, states, questions, impossible, room);
    Py_END_ALLOW_THREADS
    good = 1;
end:
    PyMem_Free(room);
    for (int k = 0; k < held; k++)
        PyBuffer_Release(&views[k]);
    if (!good)
        return NULL;
    Py_RETURN_NONE;
}

static PyMethodDef methods[] = {
    {"add", (PyCFunction)(void (*)(void))add, METH_FASTCALL,
     "add(least, cost, after, impossible): changes after as one_more.py describes it."},
    {NULL, NULL, 0, NULL}};

static struct PyModuleDef definition = {PyModuleDef_HEAD_INIT, "_one_more", NULL, -1, methods, NULL, NULL, NULL, NULL};

PyMODINIT_FUNC PyInit__one_more(void)
{
    return PyModule_Create(&definition);
}
