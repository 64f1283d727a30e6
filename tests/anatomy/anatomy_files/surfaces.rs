//! Surfaces with the usual faults.

use crate::anatomy_common::{cone, obj, put, stl};
use bendwise::anatomy::surface::Mesh;
use bendwise::anatomy::tree::ImportSettings;
use bendwise::anatomy::{Frame, Imported, Unit, import};
use nalgebra::Vector3;

fn tube() -> Mesh {
    cone(30.0, 1.5, 1.2, 60, 24)
}

fn read(name: &str, content: String) -> Imported {
    let folder = tempfile::tempdir().unwrap();
    let path = put(folder.path(), name, content);
    let settings = ImportSettings {
        units: Some(Unit::Millimetre),
        frame: Some(Frame::Scene),
        ..ImportSettings::default()
    };
    import(&path, &settings).unwrap().0
}

#[track_caller]
fn says(imported: &Imported, text: &str) {
    let notes = imported.changes.notes.join("\n");
    assert!(notes.contains(text), "no {text:?} in:\n{notes}");
}

/// A frustum of 30 mm between radii of 1.5 and 1.2 mm, less what a prism of 24 sides lacks.
fn is_the_tube(imported: &Imported) {
    let volume = imported.surface.as_ref().unwrap().volume();
    let whole = std::f64::consts::PI * 30.0 * (1.5 * 1.5 + 1.5 * 1.2 + 1.2 * 1.2) / 3.0;
    assert!((volume / whole - 1.0).abs() < 0.02, "{volume} {whole}");
    assert_eq!(imported.branches.len(), 1);
}

#[test]
fn normals_that_face_inwards_are_turned_and_counted() {
    let mut turned = tube();
    for t in &mut turned.triangles {
        t.swap(0, 1);
    }
    let imported = read("a.stl", stl(&turned));
    says(
        &imported,
        &format!("all {} triangles turned round", turned.triangles.len()),
    );
    is_the_tube(&imported);
}

#[test]
fn single_triangles_that_face_the_other_way_are_turned_and_counted() {
    let mut mixed = tube();
    for t in [100, 400, 401, 800] {
        mixed.triangles[t].swap(0, 1);
    }
    let imported = read("a.obj", obj(&mixed));
    says(&imported, "4 triangles turned");
    is_the_tube(&imported);
}

#[test]
fn triangles_that_are_there_twice_and_loose_pieces_are_dropped_and_counted() {
    let mut doubled = tube();
    let again = doubled.triangles[100];
    doubled.triangles.push(again);
    let first = doubled.points.len() as u32;
    for p in [
        [0.0, 9.0, 0.0],
        [1.0, 9.0, 0.0],
        [0.0, 9.0, 1.0],
        [0.0, 8.0, 0.0],
    ] {
        doubled.points.push(Vector3::from(p));
    }
    for t in [[0, 1, 2], [0, 3, 1], [1, 3, 2], [2, 3, 0]] {
        doubled.triangles.push(t.map(|i| i + first));
    }
    let imported = read("a.obj", obj(&doubled));
    says(&imported, "1 triangle that was there twice dropped");
    says(
        &imported,
        "1 small piece beside the lumen dropped, 4 triangles",
    );
    is_the_tube(&imported);
}

#[test]
fn a_small_hole_in_the_wall_is_closed_and_its_place_said() {
    let mut torn = tube();
    let gone = torn.triangles.remove(1501);
    let p = gone
        .iter()
        .map(|i| torn.points[*i as usize])
        .sum::<Vector3<f64>>()
        / 3.0;
    let imported = read("a.obj", obj(&torn));
    says(&imported, "in the wall near (");
    says(&imported, &format!("({:.1}, {:.1}, {:.1})", p.x, p.y, p.z));
    says(&imported, "closed flat: no vessel of its own begins there");
    is_the_tube(&imported);
    assert!(imported.warnings.is_empty(), "{:?}", imported.warnings);
}

/// A tube with both caps off, and a short stump beside it: its open end lies 3.2 mm from the axis of
/// the tube, whose radius is 1.5 mm. Before, the end was "at no end of a vessel".
#[test]
fn the_open_end_of_a_short_branch_is_an_end_and_its_branch_stays() {
    use bendwise::scenario::model::*;
    let straight = |name: &str, parent: Option<(&str, f64)>, length: f64, width: f64| BranchSpec {
        name: name.into(),
        attached: parent.map(|(parent, station)| AttachmentSpec {
            parent: parent.into(),
            station_mm: Some(station),
            place: Place::default(),
        }),
        path: PathSpec::Pieces {
            start_mm: Vector3::zeros(),
            direction: Vector3::x(),
            take_off_rad: std::f64::consts::FRAC_PI_2,
            take_off_plane_rad: 0.0,
            pieces: vec![PieceSpec::Straight { length_mm: length }],
        },
        diameters: vec![(0.0, width)],
        place: Place::default(),
    };
    let spec = VesselSpec {
        carina_blend_mm: 0.3,
        ..VesselSpec::new(vec![
            straight("main", None, 30.0, 3.0),
            straight("stump", Some(("main", 15.0)), 5.0, 2.0),
        ])
    };
    let tree = bendwise::vessel::Tree::build(&spec).unwrap();
    let spacing = bendwise::vessel::Spacing { cell_mm: 0.25 };
    let net = bendwise::vessel::net(&tree, None, &spacing).unwrap();
    let side = tree.branches()[1].centreline.tangent(4.0);
    // Cut off both round ends of the tube, and that of the stump 3.2 mm from the axis.
    let kept = |t: &[u32; 3]| {
        t.iter().all(|i| {
            let p = net.points[*i as usize];
            p.x > 0.0 && p.x < 30.0 && p.dot(&side) < 3.2
        })
    };
    let open = Mesh {
        triangles: net.triangles.iter().copied().filter(kept).collect(),
        points: net.points.clone(),
    };
    let imported = read("a.obj", obj(&open));
    says(&imported, "3 holes at its ends left open");
    says(&imported, "extended straight by 4.9");
    assert_eq!(imported.branches.len(), 3, "{:?}", imported.changes.stubs);
    let ends: Vec<_> = imported
        .branches
        .iter()
        .filter(|b| b.tip.is_some())
        .collect();
    assert_eq!(ends.len(), 2);
    let reaches = ends.iter().any(|b| {
        let end = b.points.last().unwrap();
        // Led on by five of its radii, of which a ball in it leaves one.
        (end.dot(&side) - 3.2 - 4.0).abs() < 0.4
    });
    assert!(
        reaches,
        "{:?}\n{:?}",
        ends.iter().map(|b| b.points.last()).collect::<Vec<_>>(),
        imported.changes
    );
}
