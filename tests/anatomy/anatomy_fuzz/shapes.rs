//! Sound files of odd content: trees with doubled, missing, far and detached points, tubes with
//! torn, turned, moved and doubled triangles.

use bendwise::anatomy::surface::Mesh;
use nalgebra::Vector3;
use std::fmt::Write as _;

use super::damage::Draw;
use crate::anatomy_common::{obj, stl, swept};

/// Numbers that no vessel has.
const ODD: [f64; 9] = [
    f64::NAN,
    f64::INFINITY,
    1e200,
    -1e12,
    1e6,
    0.0,
    -0.0,
    1e-300,
    4.0,
];

/// A file with its ending.
pub fn file(draw: &mut Draw) -> (String, Vec<u8>) {
    if draw.once_in(3) {
        let mesh = mesh(draw);
        return if draw.once_in(2) {
            ("stl".into(), stl(&mesh).into())
        } else {
            ("obj".into(), obj(&mesh).into())
        };
    }
    let lines = lines(draw);
    match draw.below(3) {
        0 => ("csv".into(), csv(&lines).into()),
        1 => ("vtk".into(), legacy(draw, &lines).into()),
        _ => ("swc".into(), swc(draw, &lines).into()),
    }
}

type Points = Vec<(Vector3<f64>, f64)>;

/// Lines that wind, each from a place on one before it, damaged.
fn lines(draw: &mut Draw) -> Vec<Points> {
    let mut lines: Vec<Points> = Vec::new();
    for _ in 0..=draw.below(6) {
        let (mut p, mut r) = (Vector3::zeros(), 1.0 + 2.0 * draw.share());
        if let Some(parent) = lines.get(draw.below(lines.len())) {
            (p, r) = parent[draw.below(parent.len())];
            if draw.once_in(2) {
                // A line of its own from the inlet, which repeats its trunk.
                p = parent[0].0 + Vector3::new(0.0, 0.02, 0.0);
            }
        }
        let turn = Vector3::from_fn(|_, _| draw.share() - 0.5);
        let mut direction = Vector3::from_fn(|_, _| draw.share() - 0.5);
        let mut line = vec![(p, r)];
        for _ in 0..draw.below(40) {
            direction = (direction + turn * 0.3).normalize();
            p += direction * draw.of(&[0.5, 1.0, 2.0, 0.01]);
            r *= draw.of(&[0.97, 1.0, 0.5, 1.01]);
            line.push((p, r));
        }
        lines.push(line);
    }
    for _ in 0..draw.below(4) {
        let which = draw.below(lines.len());
        let line = &mut lines[which];
        let at = draw.below(line.len());
        match draw.below(7) {
            0 => line[at].0[draw.below(3)] = draw.of(&ODD),
            1 => line[at].1 = draw.of(&ODD),
            2 => line.insert(at, line[at]),
            3 => line.truncate(at + 1),
            4 => line.reverse(),
            5 => line.extend_from_within(..at),
            _ => {
                // A way round: the line ends where it or another begins.
                let first = line[0];
                line.push(first);
            }
        }
    }
    lines
}

fn csv(lines: &[Points]) -> String {
    let mut text = String::from("branch,x,y,z,radius\n");
    for (i, line) in lines.iter().enumerate() {
        for (p, r) in line {
            let _ = writeln!(text, "line {i},{},{},{},{r}", p.x, p.y, p.z);
        }
    }
    text
}

fn legacy(draw: &mut Draw, lines: &[Points]) -> String {
    let all: Points = lines.concat();
    let mut text = format!(
        "# vtk DataFile Version 3.0\nlines\nASCII\nDATASET POLYDATA\nPOINTS {} double\n",
        all.len()
    );
    for (p, _) in &all {
        let _ = writeln!(text, "{} {} {}", p.x, p.y, p.z);
    }
    let _ = writeln!(text, "LINES {} {}", lines.len(), all.len() + lines.len());
    let mut from = 0;
    for line in lines {
        let _ = write!(text, "{}", line.len());
        for k in 0..line.len() {
            // Now and then a line uses points of another.
            let other = draw.once_in(60);
            let id = if other {
                draw.below(all.len())
            } else {
                from + k
            };
            let _ = write!(text, " {id}");
        }
        text += "\n";
        from += line.len();
    }
    let _ = writeln!(text, "POINT_DATA {}\nSCALARS radius double 1", all.len());
    text += "LOOKUP_TABLE default\n";
    for (_, r) in &all {
        let _ = writeln!(text, "{r}");
    }
    text
}

fn swc(draw: &mut Draw, lines: &[Points]) -> String {
    let mut text = String::new();
    let mut number = 0_usize;
    for line in lines {
        for (k, (p, r)) in line.iter().enumerate() {
            let hangs_on = match (k, number) {
                (_, 0) => "-1".to_owned(),
                (0, _) if draw.once_in(8) => "-1".to_owned(),
                (0, _) => (1 + draw.below(number)).to_string(),
                _ if draw.once_in(200) => draw.below(number + 9).to_string(),
                _ => number.to_string(),
            };
            number += 1;
            let _ = writeln!(text, "{number} 0 {} {} {} {r} {hangs_on}", p.x, p.y, p.z);
        }
    }
    text
}

/// A tube that winds and narrows, damaged.
fn mesh(draw: &mut Draw) -> Mesh {
    let (rings, around) = (3 + draw.below(50), 3 + draw.below(14));
    let (length, radius) = (3.0 + 60.0 * draw.share(), 0.4 + 2.0 * draw.share());
    let (bend, narrow) = (draw.share(), draw.share());
    let mut mesh = swept(rings, around, draw.once_in(20), |t| {
        let (sin, cos) = (6.0 * bend * t).sin_cos();
        let along = Vector3::new(cos, sin, 0.2).normalize();
        let u = along.cross(&Vector3::z()).normalize();
        let middle = Vector3::new(length * t, 8.0 * bend * sin, 3.0 * t);
        (
            middle,
            u,
            along.cross(&u),
            radius * (1.0 - 0.9 * narrow * t),
        )
    });
    for _ in 0..draw.below(4) {
        let t = draw.below(mesh.triangles.len());
        let p = draw.below(mesh.points.len());
        match draw.below(9) {
            0 => mesh.points[p][draw.below(3)] = draw.of(&ODD),
            1 => mesh.points[p] += Vector3::from_fn(|_, _| 4.0 * (draw.share() - 0.5)),
            2 => drop(mesh.triangles.remove(t)),
            3 => mesh.triangles[t].swap(0, 1),
            4 => {
                let doubled = mesh.triangles[t];
                mesh.triangles.push(doubled);
            }
            5 => mesh.points[p] = mesh.points[draw.below(mesh.points.len())],
            6 => mesh.triangles.truncate(t.max(1)),
            7 => mesh.triangles.iter_mut().for_each(|t| t.swap(1, 2)),
            // The whole end is open.
            _ => {
                let from = mesh.triangles.len().saturating_sub(around);
                mesh.triangles.truncate(from.max(1));
            }
        }
        if mesh.triangles.is_empty() {
            break;
        }
    }
    mesh
}
