//! Large surfaces in every format.

use std::collections::HashSet;

use super::Case;
use super::formats::{obj, ply, ply_text, stl, stl_text, vtk_surface, vtp_surface};
use super::solids::{Solid, bends, comb, crumbs, cubes, noise, to_and_fro, tube};

/// Rings and points a ring of a tube of about `faces` triangles.
fn rings(faces: usize, around: usize) -> [usize; 2] {
    [faces / (2 * around), around]
}

fn bent(faces: usize) -> Solid {
    tube(rings(faces, 100), bends(200.0), |_| 2.0, true)
}

fn spoiled(numbers: [f64; 3], every: usize) -> Solid {
    bent(400_000).moved(move |i, p| if i % every == 0 { numbers } else { p })
}

/// A layer of cubes squeezed flat.
fn sheets(count: i32) -> Solid {
    let mut heap = HashSet::new();
    for sheet in 0..count {
        for x in 0..100 {
            heap.extend((0..100).map(|y| [x, y, 2 * sheet]));
        }
        heap.insert([50, 50, 2 * sheet + 1]);
    }
    cubes(&heap, 1).moved(|_, [x, y, z]| [0.4 * x, 0.4 * y, 0.02 * z])
}

pub fn cases() -> Vec<Case> {
    let mut out = Vec::new();
    let mut in_format = |name: &'static str, file: &'static str, make: fn() -> Vec<u8>| {
        out.push(Case::anatomy(name, file, make));
    };
    in_format("tube, STL", "a.stl", || stl(&bent(334_000)));
    in_format("tube, STL as text", "a.stl", || stl_text(&bent(110_000)));
    in_format("tube, OBJ", "a.obj", || obj(&bent(410_000)));
    in_format("tube inside out, OBJ", "a.obj", || {
        obj(&bent(410_000).inside_out())
    });
    in_format("tube, PLY as text", "a.ply", || ply_text(&bent(410_000)));
    in_format("tube, VTP packed", "a.vtp", || vtp_surface(&bent(490_000)));
    in_format("tube, VTK", "a.vtk", || vtk_surface(&bent(490_000), false));
    in_format("tube, VTK as text", "a.vtk", || {
        vtk_surface(&bent(410_000), true)
    });
    in_format("one face of a million corners, OBJ", "a.obj", || {
        let mut text = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\nf".to_vec();
        text.extend((0..7_000_000).flat_map(|i| [b' ', b'1' + (i % 4) as u8]));
        text
    });
    let mut solid = |name: &'static str, make: fn() -> Solid| {
        out.push(Case::anatomy(name, "a.ply", move || ply(&make())));
    };
    solid("tube", || bent(490_000));
    solid("tube inside out", || bent(490_000).inside_out());
    solid("tube, open", || {
        tube(rings(490_000, 100), bends(200.0), |_| 2.0, false)
    });
    solid("tube, every other triangle turned", || {
        let mut all = bent(490_000);
        all.faces.iter_mut().step_by(2).for_each(|f| f.swap(1, 2));
        all
    });
    solid("tube, some noise", || {
        tube(
            rings(490_000, 100),
            bends(200.0),
            |i| 2.0 + 0.2 * noise(i),
            true,
        )
    });
    solid("tube, much noise", || {
        tube(
            rings(490_000, 100),
            bends(200.0),
            |i| 2.0 + 3.0 * noise(i),
            true,
        )
    });
    solid("tube, noise that hardly crosses", || {
        tube(
            rings(490_000, 100),
            bends(400.0),
            |i| 2.0 + 0.05 * noise(i),
            true,
        )
    });
    solid("tube, long and thin", || {
        tube(rings(490_000, 6), bends(20_000.0), |_| 0.3, true)
    });
    solid("tube, thin as a thread", || {
        tube(rings(490_000, 6), bends(200.0), |_| 0.002, true)
    });
    solid("tube, wide", || {
        tube(
            rings(490_000, 600),
            |s| [60.0 * s, 0.0, 0.0],
            |_| 20.0,
            true,
        )
    });
    solid("needles along x", || {
        tube([2, 120_000], |s| [60.0 * s, 0.0, 0.0], |_| 2.0, true)
    });
    solid("needles aslant", || {
        tube(
            [2, 120_000],
            |s| [40.0 * s, 41.0 * s, 42.0 * s],
            |_| 2.0,
            true,
        )
    });
    solid("some needles aslant", || {
        tube([2, 3000], |s| [40.0 * s, 41.0 * s, 42.0 * s], |_| 2.0, true)
    });
    solid("a few needles aslant", || {
        tube([2, 400], |s| [40.0 * s, 41.0 * s, 42.0 * s], |_| 2.0, true)
    });
    solid("needles round a bend", || {
        tube([40, 6000], bends(60.0), |_| 2.0, true)
    });
    solid("a coil", || {
        let course = |s: f64| {
            let turn = std::f64::consts::TAU * 40.0 * s;
            [20.0 * turn.cos(), 20.0 * turn.sin(), 160.0 * s]
        };
        tube(rings(490_000, 30), course, |_| 1.5, true)
    });
    solid("a coil that touches itself", || {
        let course = |s: f64| {
            let turn = std::f64::consts::TAU * 80.0 * s;
            [20.0 * turn.cos(), 20.0 * turn.sin(), 160.0 * s]
        };
        tube(rings(490_000, 30), course, |_| 1.5, true)
    });
    solid("to and fro", || {
        cubes(&to_and_fro(60_000, 60, 20).into_iter().collect(), 1)
    });
    solid("comb of 500 teeth", || cubes(&comb(500, 30), 1));
    solid("comb of 2000 teeth", || cubes(&comb(2000, 20), 1));
    solid("comb of 4000 teeth", || cubes(&comb(4000, 8), 1));
    solid("comb of 900 open teeth", || {
        let all = cubes(&comb(900, 20), 1);
        let top = |f: &[u32; 3]| f.iter().all(|i| all.points[*i as usize][2] > 20.9);
        let gone: HashSet<usize> = (0..all.faces.len())
            .filter(|i| top(&all.faces[*i]))
            .collect();
        all.clone().without(|i| gone.contains(&i))
    });
    solid("comb of short teeth, half of them open", || {
        let all = cubes(&comb(900, 3), 3);
        let top = |f: &[u32; 3]| f.iter().all(|i| all.points[*i as usize][2] > 3.9);
        let gone: HashSet<usize> = (0..all.faces.len())
            .filter(|i| top(&all.faces[*i]) && all.points[all.faces[*i][0] as usize][0] % 4.0 < 2.0)
            .collect();
        all.clone().without(|i| gone.contains(&i))
    });
    solid("sheets", || sheets(11));
    solid("sheets, two", || sheets(2));
    solid("tube with 900 holes", || {
        bent(490_000).without(|i| i % 544 == 7)
    });
    solid("tube with 100000 holes", || {
        bent(490_000).without(|i| i % 5 == 0)
    });
    solid("crumbs", || crumbs(110_000));
    solid("tube among crumbs", || bent(245_000).and(&crumbs(60_000)));
    solid("two tubes", || {
        bent(245_000).and(&bent(245_000).moved(|_, [x, y, z]| [x, y + 40.0, z]))
    });
    solid("tube twice in the same place", || {
        bent(245_000).and(&bent(245_000))
    });
    solid("tube within a tube", || {
        bent(245_000).and(&tube(rings(245_000, 100), bends(200.0), |_| 1.0, true).inside_out())
    });
    solid("every point alone", || {
        let all = bent(160_000);
        let points = all
            .faces
            .iter()
            .flatten()
            .map(|i| all.points[*i as usize])
            .collect();
        let faces = (0..all.faces.len() as u32)
            .map(|t| [3 * t, 3 * t + 1, 3 * t + 2])
            .collect();
        Solid { points, faces }.moved(|i, [x, y, z]| [x + 1e-7 * noise(i), y, z])
    });
    solid("all triangles the same", || {
        let mut all = bent(490_000);
        all.faces.iter_mut().for_each(|f| *f = [0, 1, 100]);
        all
    });
    solid("all triangles at one edge", || {
        let mut all = bent(490_000);
        for (i, f) in (2..).zip(&mut all.faces) {
            *f = [0, 1, i % 200_000];
        }
        all
    });
    solid("all points on one line", || {
        bent(490_000).moved(|i, _| [0.001 * i as f64, 0.0, 0.0])
    });
    solid("all points in one plane", || {
        bent(490_000).moved(|_, [x, y, _]| [x, y, 0.0])
    });
    solid("all points in one place", || {
        bent(490_000).moved(|_, _| [1.0; 3])
    });
    solid("a point not a number", || spoiled([f64::NAN; 3], 100_000));
    solid("a point far away", || spoiled([1e7, 0.0, 0.0], 200_000));
    solid("points far away", || spoiled([1e5, 1e5, 1e5], 1000));
    solid("huge", || bent(490_000).moved(|_, p| p.map(|x| 1e150 * x)));
    solid("tiny", || bent(490_000).moved(|_, p| p.map(|x| 1e-150 * x)));
    solid("far from the origin", || {
        bent(490_000).moved(|_, p| p.map(|x| x + 1e9))
    });
    solid("triangles at random", || {
        bent(400_000).moved(|i, _| [3 * i, 3 * i + 1, 3 * i + 2].map(|k| 60.0 * noise(k)))
    });
    solid("a ball with spikes", || {
        tube(
            [700, 340],
            |s| [30.0 * s, 0.0, 0.0],
            |i| if i % 97 == 5 { 30.0 } else { 3.0 },
            true,
        )
    });
    solid("a heap of cubes", || {
        let heap =
            (0..60_i32).flat_map(|x| (0..60).flat_map(move |y| (0..60).map(move |z| [x, y, z])));
        cubes(&heap.collect(), 3)
    });
    solid("a sponge", || {
        let heap =
            (0..41_i32).flat_map(|x| (0..41).flat_map(move |y| (0..41).map(move |z| [x, y, z])));
        let wall = |p: &[i32; 3]| p.iter().filter(|k| *k % 2 == 0).count() >= 2;
        cubes(&heap.filter(wall).collect(), 1)
    });
    out
}
