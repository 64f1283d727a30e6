//! What is there to look at: shapes and vessel for a viewer, and figures.

use std::f64::consts::PI;
use std::fs;

use approx::assert_abs_diff_eq;
use bendwise::report::read_wire;
use nalgebra::Vector3;
use vtkio::model::{DataSet, Piece, VertexNumbers, Vtk};

use crate::report_folder::invented::{folder, outline, trial};

#[test]
fn shapes_read_back_as_they_were() {
    let shapes = folder().join("shapes").join("push-soft-0-3-gf-0");
    let expected = trial(0, 0).shapes;
    let collection = fs::read_to_string(shapes.join("wire.pvd")).unwrap();
    assert_eq!(collection.matches("<DataSet ").count(), expected.len());
    for (step, shape) in expected.iter().enumerate() {
        let file = format!("wire-{step:04}.vtp");
        assert!(collection.contains(&format!("file=\"{file}\"")));
        let read = read_wire(&shapes.join(file)).unwrap();
        assert_eq!(read.nodes_mm.len(), shape.nodes_mm.len());
        assert_abs_diff_eq!(read.fed_mm, shape.fed_mm, epsilon = 1e-9);
        for i in 0..shape.nodes_mm.len() {
            assert_abs_diff_eq!(read.nodes_mm[i], shape.nodes_mm[i], epsilon = 1e-9);
            assert_abs_diff_eq!(
                read.wall_force_mn[i],
                shape.wall_force_mn[i],
                epsilon = 1e-9
            );
            let (curvature, expected) = (read.curvature_per_mm[i], shape.curvature_per_mm[i]);
            assert_abs_diff_eq!(curvature, expected, epsilon = 1e-9);
        }
    }
}

/// The volume inside a closed tube of rings is close to that of its cones; here the open tube's
/// area is compared: every ring of 24 corners lies on the lumen, so the area of the side is
/// within 2 % of the tubes' 2 pi r times length.
#[test]
fn the_vessel_is_a_surface_on_the_lumen() {
    let vtk = Vtk::import(folder().join("vessel.vtp")).unwrap();
    let DataSet::PolyData { pieces, .. } = vtk.data else {
        panic!("not polygonal data");
    };
    let Some(Piece::Inline(piece)) = pieces.into_iter().next() else {
        panic!("no piece");
    };
    let points: Vec<f64> = piece.points.into_vec().unwrap();
    let at = |i: u64| Vector3::from_column_slice(&points[3 * i as usize..3 * i as usize + 3]);
    let Some(VertexNumbers::XML { connectivity, .. }) = piece.polys else {
        panic!("no triangles");
    };
    let area: f64 = connectivity
        .chunks_exact(3)
        .map(|t| 0.5 * (at(t[1]) - at(t[0])).cross(&(at(t[2]) - at(t[0]))).norm())
        .sum();
    let expected: f64 = outline()
        .branches
        .iter()
        .flat_map(|b| {
            b.points
                .windows(2)
                .map(|w| (w[0], w[1]))
                .collect::<Vec<_>>()
        })
        .map(|(a, b)| PI * (a.radius_mm + b.radius_mm) * (b.position_mm - a.position_mm).norm())
        .sum();
    assert!((area / expected - 1.0).abs() < 0.02, "{area} {expected}");
}

/// Width and height in the first chunk of a PNG file.
fn png_size(bytes: &[u8]) -> (u32, u32) {
    assert_eq!(&bytes[..8], b"\x89PNG\r\n\x1a\n");
    let number = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap());
    (number(16), number(20))
}

#[test]
fn every_figure_is_there_as_png_and_svg_of_the_same_size() {
    let figures = folder().join("figures");
    let names = [
        "success-rate",
        "outcomes",
        "comparison",
        "forces",
        "wall-force-map",
        "scene",
        "scene-push-soft-0-3-gf",
    ];
    for name in names {
        let png = fs::read(figures.join(format!("{name}.png"))).unwrap();
        let svg = fs::read_to_string(figures.join(format!("{name}.svg"))).unwrap();
        let (width, height) = png_size(&png);
        assert!(width >= 900 && height >= 200, "{name}: {width} x {height}");
        assert!(
            svg.contains(&format!("width=\"{width}\" height=\"{height}\"")),
            "{name}"
        );
        assert!(svg.contains("(mm)") || svg.contains("(%)") || svg.contains("(mN)"));
        assert!(svg.trim_end().ends_with("</svg>"));
    }
    assert_eq!(fs::read_dir(&figures).unwrap().count(), 2 * (6 + 6));
}
