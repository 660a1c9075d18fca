"""Solids whose distance is known otherwise, cut into triangles: what a drawing program would write."""

import numpy as np

from geometry.meshes import Mesh


def prism_triangles(outline, low, high):
    """Corners and triangles of an upright prism whose outline is star-shaped about (0, 0), fanned out from there."""
    ring = np.array(outline)
    n = len(ring)
    corners = np.vstack(
        [np.column_stack([ring, np.full(n, z)]) for z in (low, high)] + [[[0.0, 0.0, low]], [[0.0, 0.0, high]]]
    )
    triangles = []
    for i in range(n):
        j = (i + 1) % n
        triangles += [(2 * n, j, i), (2 * n + 1, n + i, n + j), (i, j, n + j), (i, n + j, n + i)]
    return corners, np.array(triangles)


def box_triangles(size=(1.0, 1.0, 1.0), at=(0.0, 0.0, 0.0)):
    """A box about its middle."""
    x, y, z = np.array(size) / 2
    corners, triangles = prism_triangles([(-x, -y), (x, -y), (x, y), (-x, y)], -z, z)
    return corners + np.array(at), triangles


def loose(corners, triangles):
    """As files hold them: three corners of its own to each triangle."""
    return corners[triangles].reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3)


def ball(radius, across=24, up=16):
    """A ball of meridians and parallels: corners on the sphere, so it lies within."""
    turn = 2 * np.pi * np.arange(across) / across
    rings = [
        np.column_stack([np.sin(t) * np.cos(turn), np.sin(t) * np.sin(turn), np.full(across, np.cos(t))])
        for t in np.pi * np.arange(1, up) / up
    ]
    corners = radius * np.vstack([*rings, [[0, 0, 1]], [[0, 0, -1]]])
    top, foot = len(corners) - 2, len(corners) - 1
    triangles = []
    for i in range(across):
        j = (i + 1) % across
        triangles += [(top, i, j), (foot, (up - 2) * across + j, (up - 2) * across + i)]
        for ring in range(up - 2):
            a, b = ring * across, (ring + 1) * across
            triangles += [(a + i, b + i, b + j), (a + i, b + j, a + j)]
    return Mesh(corners, np.array(triangles))
