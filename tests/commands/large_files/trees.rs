//! Large trees of centrelines in every format.

use super::Case;
use super::formats::{csv, swc, vtk_lines, vtp_lines};
use super::lines::{Lines, bundle, one, star, trunk, twofold};
use super::solids::noise;

fn winding(i: usize) -> [f64; 3] {
    let x = 0.002 * i as f64;
    [x, 5.0 * (0.1 * x).sin(), 3.0 * (0.07 * x).cos()]
}

pub fn cases() -> Vec<Case> {
    let mut out = Vec::new();
    let mut lines = |name: &'static str, file: &'static str, make: fn() -> Vec<u8>| {
        out.push(Case::anatomy(name, file, make));
    };
    lines("one line, CSV", "a.csv", || {
        csv(&one(590_000, winding, 2.0))
    });
    lines("one line, SWC", "a.swc", || {
        swc(&one(430_000, winding, 2.0))
    });
    lines("one line, VTK", "a.vtk", || {
        vtk_lines(&one(800_000, winding, 2.0), false)
    });
    lines("one line, VTK as text", "a.vtk", || {
        vtk_lines(&one(400_000, winding, 2.0), true)
    });
    lines("one line, VTP", "a.vtp", || {
        vtp_lines(&one(500_000, winding, 2.0), false)
    });
    lines("one line, VTP packed", "a.vtp", || {
        vtp_lines(&one(990_000, winding, 2.0), true)
    });
    lines("a straight line of a million points", "a.vtp", || {
        vtp_lines(&one(990_000, |i| [0.0001 * i as f64, 0.0, 0.0], 1.0), true)
    });
    lines("a line of noise", "a.vtp", || {
        vtp_lines(
            &one(
                400_000,
                |i| [3 * i, 3 * i + 1, 3 * i + 2].map(|k| 0.07 * noise(k)),
                1.0,
            ),
            false,
        )
    });
    lines("a line with noise", "a.vtp", || {
        let place = |i: usize| {
            let [x, y, z] = winding(i);
            [x + 0.09 * noise(i), y + 0.09 * noise(i + 9), z]
        };
        vtp_lines(&one(400_000, place, 1.0), false)
    });
    lines("a line that turns round and round", "a.vtp", || {
        let place = |i: usize| {
            let turn = 0.001 * i as f64;
            [20.0 * turn.cos(), 20.0 * turn.sin(), 1e-4 * turn]
        };
        vtp_lines(&one(800_000, place, 1.0), true)
    });
    lines("all points in one place", "a.csv", || {
        csv(&one(650_000, |_| [1.0; 3], 2.0))
    });
    lines("huge", "a.vtp", || {
        vtp_lines(&one(800_000, |i| winding(i).map(|x| 1e30 * x), 2e30), true)
    });
    lines("tiny", "a.vtp", || {
        vtp_lines(
            &one(800_000, |i| winding(i).map(|x| 1e-30 * x), 2e-30),
            true,
        )
    });
    lines("two points a metre apart, 40 m wide", "a.csv", || {
        csv(&one(20_000, |i| [1000.0 * i as f64, 0.0, 0.0], 40_000.0))
    });
    lines("not a number", "a.vtp", || {
        vtp_lines(
            &one(
                800_000,
                |i| {
                    if i == 700_000 {
                        [f64::NAN; 3]
                    } else {
                        winding(i)
                    }
                },
                1.0,
            ),
            true,
        )
    });
    lines("2000 branches on a trunk, CSV", "a.csv", || {
        csv(&trunk(2000, 4.0, (80, 0.05), false))
    });
    lines("2000 branches on a trunk, SWC", "a.swc", || {
        swc(&trunk(2000, 4.0, (80, 0.05), false))
    });
    lines("90 branches from the inlet, CSV", "a.csv", || {
        csv(&trunk(90, 4.0, (20, 0.2), true))
    });
    lines("90 fine branches from the inlet, VTP", "a.vtp", || {
        vtp_lines(&trunk(90, 4.0, (2000, 0.002), true), true)
    });
    lines("300 close branches from the inlet, VTP", "a.vtp", || {
        vtp_lines(&trunk(300, 0.4, (200, 0.02), true), true)
    });
    lines("4900 branches on a trunk, VTP", "a.vtp", || {
        vtp_lines(&trunk(4900, 1.5, (20, 0.1), false), true)
    });
    lines("100000 branches on a trunk, VTP", "a.vtp", || {
        vtp_lines(&trunk(100_000, 0.1, (3, 0.5), false), true)
    });
    lines("100000 branches on a trunk, SWC", "a.swc", || {
        swc(&trunk(100_000, 0.1, (3, 0.5), false))
    });
    lines("a tree of 2000 branches, SWC", "a.swc", || {
        swc(&twofold(10, 100))
    });
    lines("a tree of 2000 branches, VTP", "a.vtp", || {
        vtp_lines(&twofold(10, 200), true)
    });
    lines("a tree of 4000 branches, VTK", "a.vtk", || {
        vtk_lines(&twofold(11, 100), false)
    });
    lines("a tree of 65000 branches, SWC", "a.swc", || {
        swc(&twofold(14, 5))
    });
    lines("a tree of 500 branches, noisy and fine", "a.vtp", || {
        let mut all = twofold(8, 900);
        for (i, p) in all.points.iter_mut().enumerate() {
            p.iter_mut().for_each(|x| *x += 0.05 * noise(i));
        }
        vtp_lines(&all, true)
    });
    lines("a long line with a tight turn, CSV", "a.csv", || {
        // There, round a half circle of 1.2 mm in a lumen of 2 mm, and back beside it.
        let place = |i: usize| {
            let s = 0.5 * i as f64 - 1700.0;
            let turn = (s / 1.2).clamp(0.0, std::f64::consts::PI);
            let before = s.min(0.0);
            let behind = (s - 1.2 * std::f64::consts::PI).max(0.0);
            let x = before + 1.2 * turn.sin() - behind * 0.999;
            [x, 1.2 - 1.2 * turn.cos() + 0.045 * behind, 0.0]
        };
        csv(&one(6800, place, 2.0))
    });
    lines("a star, SWC", "a.swc", || swc(&star(400_000)));
    lines("a star, VTP", "a.vtp", || vtp_lines(&star(400_000), true));
    lines("a bundle of 90 lines", "a.vtp", || {
        vtp_lines(&bundle(90, 100), true)
    });
    lines("a bundle of 40 lines", "a.vtp", || {
        vtp_lines(&bundle(40, 12_000), true)
    });
    lines("a bundle of 10 lines", "a.vtp", || {
        vtp_lines(&bundle(10, 80_000), true)
    });
    lines("half a million pairs of points", "a.vtk", || {
        let mut all = one(400_000, winding, 1.0);
        all.lines = (0..399_999).map(|i| vec![i, i + 1]).collect();
        vtk_lines(&all, false)
    });
    lines("pairs of points that are joined nowhere", "a.vtk", || {
        let mut all = one(400_000, winding, 1.0);
        all.lines = (0..200_000).map(|i| vec![2 * i, 2 * i + 1]).collect();
        vtk_lines(&all, false)
    });
    lines("the same line a thousand times", "a.vtp", || {
        let mut all = one(2000, winding, 1.0);
        all.lines = vec![all.lines[0].clone(); 3000];
        vtp_lines(&all, true)
    });
    lines(
        "a line that uses all points again and again",
        "a.vtp",
        || {
            let mut all: Lines = one(2000, winding, 1.0);
            all.lines[0] = (0..4_000_000).map(|i| i % 2000).collect();
            vtp_lines(&all, true)
        },
    );
    lines("parents in the order turned round, SWC", "a.swc", || {
        let mut text = String::new();
        for i in (1..400_000).rev() {
            let [x, y, z] = winding(i);
            text += &format!(
                "{i} 0 {x:.2} {y:.2} {z:.2} 2 {}\n",
                if i == 1 { -1 } else { i as i64 - 1 }
            );
        }
        text.into()
    });
    lines("parents in a ring, SWC", "a.swc", || {
        let mut text = String::new();
        for i in 1..400_000 {
            let [x, y, z] = winding(i);
            text += &format!(
                "{i} 0 {x:.2} {y:.2} {z:.2} 2 {}\n",
                if i == 1 { 399_999 } else { i - 1 }
            );
        }
        text.into()
    });
    out
}
