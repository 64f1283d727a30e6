//! Files that a general scientific library wrote are read back exactly.
//!
//! The files under `reference/anatomy` were written by `reference/anatomy_files.py` (versions
//! there) from the geometry that stands at the top of that script and, again, below.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use bendwise::anatomy::{Arrays, Content, Lines, RawSurface, parse};
use nalgebra::Vector3;
use std::fs;
use std::path::Path;

fn read(name: &str) -> Content {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/anatomy");
    let bytes = fs::read(folder.join(name)).unwrap();
    let ending = name.rsplit('.').next().unwrap();
    parse(ending, &bytes, &Arrays::default())
        .unwrap_or_else(|(at, fault)| panic!("{name}{at}: {fault}"))
}

fn lines(name: &str) -> Lines {
    match read(name) {
        Content::Lines(lines) => lines,
        Content::Surface(_) => panic!("{name} gave a surface"),
    }
}

fn surface(name: &str) -> RawSurface {
    match read(name) {
        Content::Surface(surface) => surface,
        Content::Lines(_) => panic!("{name} gave lines"),
    }
}

fn points() -> Vec<Vector3<f64>> {
    let trunk = (0..11).map(|i| Vector3::new(2.0 * f64::from(i), 0.0, 0.0));
    let side = (1..6).map(|i| {
        let i = f64::from(i);
        Vector3::new(10.0 + 1.6 * i, 1.6 * i, 0.2 * i)
    });
    trunk.chain(side).collect()
}

fn radii() -> Vec<f64> {
    let trunk = (0..11).map(|i| 1.5 - 0.02 * (2.0 * f64::from(i)));
    trunk.chain([0.9; 5]).collect()
}

const BALL: [[f64; 3]; 6] = [
    [3.0, 2.0, 3.0],
    [-1.0, 2.0, 3.0],
    [1.0, 4.0, 3.0],
    [1.0, 0.0, 3.0],
    [1.0, 2.0, 5.0],
    [1.0, 2.0, 1.0],
];
const FACES: [[u32; 3]; 8] = [
    [0, 2, 4],
    [2, 1, 4],
    [1, 3, 4],
    [3, 0, 4],
    [2, 0, 5],
    [1, 2, 5],
    [3, 1, 5],
    [0, 3, 5],
];

#[test]
fn every_way_of_writing_centrelines_gives_the_same_lines_to_the_last_bit() {
    for name in [
        "lines-ascii.vtp",
        "lines-binary.vtp",
        "lines-binary-big.vtp",
        "lines-binary-zlib.vtp",
        "lines-appended-raw.vtp",
        "lines-appended-raw-zlib.vtp",
        "lines-appended-base64.vtp",
        "lines-appended-base64-zlib.vtp",
        "lines-legacy4-binary.vtk",
        "lines-legacy5-binary.vtk",
    ] {
        let found = lines(name);
        assert_eq!(found.points, points(), "{name}");
        assert_eq!(found.radii, radii(), "{name}");
        let ids: Vec<Vec<usize>> = found.lines.iter().map(|l| l.points.clone()).collect();
        assert_eq!(
            ids,
            [(0..11).collect(), vec![5, 11, 12, 13, 14, 15]],
            "{name}"
        );
        let names: Vec<_> = found.lines.iter().map(|l| l.name.as_deref()).collect();
        assert_eq!(names, [Some("trunk"), Some("side")], "{name}");
    }
}

/// The legacy text format carries six digits of a number.
#[test]
fn legacy_text_is_read_to_the_digits_that_it_carries() {
    for name in ["lines-legacy4-ascii.vtk", "lines-legacy5-ascii.vtk"] {
        let found = lines(name);
        for (a, b) in found.points.iter().zip(points()) {
            assert!((a - b).norm() < 1e-5, "{name}: {a} {b}");
        }
        for (a, b) in found.radii.iter().zip(radii()) {
            assert!((a - b).abs() < 1e-6, "{name}");
        }
        assert_eq!(found.lines.len(), 2, "{name}");
        assert_eq!(found.lines[1].name.as_deref(), Some("side"), "{name}");
    }
}

#[test]
fn lines_of_two_points_each_are_read_as_pairs() {
    let found = lines("pairs-meshio.vtk");
    assert_eq!(found.points, points());
    assert_eq!(found.radii, radii());
    assert_eq!(found.lines.len(), 15);
    assert!(found.lines.iter().all(|l| l.points.len() == 2));
}

/// The coordinates of the octahedron are small whole numbers, which 32 bits hold exactly.
#[test]
fn every_surface_format_gives_the_same_triangles() {
    for name in [
        "ball-zlib.vtp",
        "ball-legacy5-binary.vtk",
        "ball-ascii.ply",
        "ball-binary.ply",
        "ball-meshio.ply",
        "ball-meshio.obj",
    ] {
        let found = surface(name);
        assert_eq!(found.points, BALL.map(Vector3::from), "{name}");
        assert_eq!(found.triangles, FACES, "{name}");
    }
    for name in ["ball-ascii.stl", "ball-binary.stl", "ball-meshio.stl"] {
        let found = surface(name);
        assert_eq!(found.points.len(), 6, "{name}: points are joined");
        let corners = |t: &[u32; 3]| t.map(|i| found.points[i as usize]);
        let expected = FACES.map(|t| t.map(|i| Vector3::from(BALL[i as usize])));
        let triangles: Vec<_> = found.triangles.iter().map(corners).collect();
        assert_eq!(triangles, expected, "{name}");
    }
}

#[test]
fn an_swc_text_is_read_as_lines_between_forks_and_tips() {
    let text = "# made by hand\n1 0 0 0 0 1.5 -1\n2 0 5 0 0 1.4 1\n3 0 10 0 0 1.3 2\n\
                4 0 15 0 0 1.2 3\n5 0 12 4 0 0.9 3\n6 0 14 8 0 0.8 5\n";
    let Content::Lines(found) = parse("swc", text.as_bytes(), &Arrays::default()).unwrap() else {
        panic!("lines")
    };
    assert_eq!(found.root, Some(0));
    let ids: Vec<Vec<usize>> = found.lines.iter().map(|l| l.points.clone()).collect();
    assert_eq!(ids, [vec![0, 1, 2], vec![2, 3], vec![2, 4, 5]]);
    assert_eq!(found.points[4], Vector3::new(12.0, 4.0, 0.0));
    assert_eq!(found.radii, [1.5, 1.4, 1.3, 1.2, 0.9, 0.8]);
}

#[test]
fn a_table_is_read_by_the_names_of_its_columns() {
    let text = "# a comment\nbranch,z_mm,y_mm,x_mm,diameter_mm\nLAD,0,0,0,3\nLAD,0,0,5,2.8\n\
                D1,0,0,5,2\nD1,0,4,9,1.6\n";
    let Content::Lines(found) = parse("csv", text.as_bytes(), &Arrays::default()).unwrap() else {
        panic!("lines")
    };
    assert_eq!(found.points[3], Vector3::new(9.0, 4.0, 0.0));
    assert_eq!(found.radii, [1.5, 1.4, 1.0, 0.8]);
    let names: Vec<_> = found.lines.iter().map(|l| l.name.as_deref()).collect();
    assert_eq!(names, [Some("LAD"), Some("D1")]);
}
