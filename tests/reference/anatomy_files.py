"""Writes the files under anatomy/ with a general scientific library, for the readers to read back.

Versions used for the stored files: Python 3.11.7, vtk 9.7.2, meshio 5.3.5, numpy 2.4.6.
Run: python anatomy_files.py  (needs `pip install vtk meshio numpy`; writes beside itself)

Geometry: a trunk along x from (0, 0, 0) to (20, 0, 0) in 11 points of radius 1.5 - 0.02 x, and a
side branch from (10, 0, 0) to (18, 8, 1) in 6 points of radius 0.9, as two lines that share the
point at the branch point; and an octahedron of radius 2 about (1, 2, 3) as a surface.
"""

from pathlib import Path

import meshio
import numpy as np
import vtk
from vtk.util.numpy_support import numpy_to_vtk

FOLDER = Path(__file__).parent / "anatomy"
FOLDER.mkdir(exist_ok=True)

TRUNK = np.array([[2.0 * i, 0.0, 0.0] for i in range(11)])
SIDE = np.array([[10 + 1.6 * i, 1.6 * i, 0.2 * i] for i in range(1, 6)])
POINTS = np.vstack([TRUNK, SIDE])
RADII = np.concatenate([1.5 - 0.02 * TRUNK[:, 0], np.full(5, 0.9)])
LINES = [list(range(11)), [5, 11, 12, 13, 14, 15]]
BALL = np.array(
    [[3, 2, 3], [-1, 2, 3], [1, 4, 3], [1, 0, 3], [1, 2, 5], [1, 2, 1]], dtype=float
)
FACES = [
    [0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4],
    [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5],
]


def centrelines():
    data = vtk.vtkPolyData()
    points = vtk.vtkPoints()
    points.SetDataTypeToDouble()
    for p in POINTS:
        points.InsertNextPoint(*p)
    data.SetPoints(points)
    cells = vtk.vtkCellArray()
    for line in LINES:
        cells.InsertNextCell(len(line))
        for i in line:
            cells.InsertCellPoint(i)
    data.SetLines(cells)
    radius = numpy_to_vtk(RADII, deep=True)
    radius.SetName("MaximumInscribedSphereRadius")
    data.GetPointData().AddArray(radius)
    other = numpy_to_vtk(np.arange(16, dtype=float), deep=True)
    other.SetName("Abscissas")
    data.GetPointData().AddArray(other)
    names = vtk.vtkStringArray()
    names.SetName("name")
    names.InsertNextValue("trunk")
    names.InsertNextValue("side")
    data.GetCellData().AddArray(names)
    return data


def ball():
    data = vtk.vtkPolyData()
    points = vtk.vtkPoints()
    for p in BALL:
        points.InsertNextPoint(*p)
    data.SetPoints(points)
    cells = vtk.vtkCellArray()
    for face in FACES:
        cells.InsertNextCell(3)
        for i in face:
            cells.InsertCellPoint(i)
    data.SetPolys(cells)
    return data


def write_xml(data, name, mode, compressed, big_endian=False, wide=True, encode=True):
    writer = vtk.vtkXMLPolyDataWriter()
    writer.SetFileName(str(FOLDER / name))
    writer.SetInputData(data)
    {
        "ascii": writer.SetDataModeToAscii,
        "binary": writer.SetDataModeToBinary,
        "appended": writer.SetDataModeToAppended,
    }[mode]()
    if compressed:
        writer.SetCompressorTypeToZLib()
    else:
        writer.SetCompressorTypeToNone()
    writer.SetEncodeAppendedData(encode)
    if big_endian:
        writer.SetByteOrderToBigEndian()
    if wide:
        writer.SetHeaderTypeToUInt64()
    else:
        writer.SetHeaderTypeToUInt32()
    writer.Write()


def write_legacy(data, name, binary, version):
    writer = vtk.vtkPolyDataWriter()
    writer.SetFileName(str(FOLDER / name))
    writer.SetInputData(data)
    writer.SetFileVersion(version)
    if binary:
        writer.SetFileTypeToBinary()
    else:
        writer.SetFileTypeToASCII()
    writer.Write()


lines, surface = centrelines(), ball()
write_xml(lines, "lines-ascii.vtp", "ascii", False)
write_xml(lines, "lines-binary.vtp", "binary", False, wide=False)
write_xml(lines, "lines-binary-zlib.vtp", "binary", True)
write_xml(lines, "lines-binary-big.vtp", "binary", False, big_endian=True)
write_xml(lines, "lines-appended-raw.vtp", "appended", False, encode=False)
write_xml(lines, "lines-appended-raw-zlib.vtp", "appended", True, encode=False, wide=False)
write_xml(lines, "lines-appended-base64.vtp", "appended", False)
write_xml(lines, "lines-appended-base64-zlib.vtp", "appended", True)
for binary in (False, True):
    kind = "binary" if binary else "ascii"
    write_legacy(lines, f"lines-legacy4-{kind}.vtk", binary, 42)
    write_legacy(lines, f"lines-legacy5-{kind}.vtk", binary, 51)
write_xml(surface, "ball-zlib.vtp", "appended", True)
write_legacy(surface, "ball-legacy5-binary.vtk", True, 51)
for name, writer, binary in [
    ("ball-ascii.stl", vtk.vtkSTLWriter(), False),
    ("ball-binary.stl", vtk.vtkSTLWriter(), True),
    ("ball-ascii.ply", vtk.vtkPLYWriter(), False),
    ("ball-binary.ply", vtk.vtkPLYWriter(), True),
]:
    writer.SetFileName(str(FOLDER / name))
    writer.SetInputData(surface)
    if binary:
        writer.SetFileTypeToBinary()
    else:
        writer.SetFileTypeToASCII()
    writer.Write()
mesh = meshio.Mesh(BALL, [("triangle", np.array(FACES))])
for name, options in [
    ("ball-meshio.obj", {}),
    ("ball-meshio.stl", {"binary": True}),
    ("ball-meshio.ply", {"binary": True}),
]:
    meshio.write(FOLDER / name, mesh, **options)
pairs = [[a, b] for line in LINES for a, b in zip(line, line[1:])]
meshio.write(
    FOLDER / "pairs-meshio.vtk",
    meshio.Mesh(POINTS, [("line", np.array(pairs))], point_data={"radius": RADII}),
    file_format="vtk42",
)
