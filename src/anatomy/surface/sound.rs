//! What a surface must be to enclose a lumen: one piece, two triangles at every edge but for the
//! holes at its ends, all facing outwards, hardly any through another.

use std::sync::atomic::{AtomicBool, Ordering};

use nalgebra::Vector3;

use super::bvh::{Bvh, box_of};
use super::mesh::{Mesh, sides};
use crate::anatomy::error::{At, Checked, Fault};

/// Share of the triangles that may pass through others.
const CROSSING: f64 = 0.005;
/// Most holes that are followed; more make it a heap of triangles.
const HOLES: usize = 1000;
/// Most pairs of boxes around triangles that are looked at; half a million triangles as wide as long make
/// some 20 million.
const PAIRS: u64 = 60_000_000;
/// Most squares of the numbers of triangles at one point, summed over all points: normals there are sums
/// over all of them.
const FANS: u64 = 50_000_000;

fn refuse<T>(at: Vector3<f64>, what: String, remedy: &'static str) -> Checked<T> {
    Err((At::Point(at.into()), Fault::Surface { what, remedy }))
}

/// Takes out triangles without area, and points that none uses; gives how many triangles.
pub(super) fn tidy(mesh: &mut Mesh) -> usize {
    let before = mesh.triangles.len();
    let points = &mesh.points;
    mesh.triangles.retain(|[a, b, c]| {
        let [p, q, r] = [a, b, c].map(|i| points[*i as usize]);
        a != b && b != c && c != a && (q - p).cross(&(r - p)).norm_squared() > 0.0
    });
    let mut place = vec![u32::MAX; mesh.points.len()];
    let mut kept = Vec::new();
    for triangle in &mut mesh.triangles {
        for i in triangle {
            let place = &mut place[*i as usize];
            if *place == u32::MAX {
                *place = u32::try_from(kept.len()).unwrap_or(u32::MAX);
                kept.push(mesh.points[*i as usize]);
            }
            *i = *place;
        }
    }
    mesh.points = kept;
    before - mesh.triangles.len()
}

/// The holes of a surface, each as the points around it so that, followed in that order, the
/// surface lies to the right as seen from outside.
pub(super) fn holes(mesh: &Mesh) -> Checked<Vec<Vec<u32>>> {
    let all = sides(&mesh.triangles);
    let mut open: Vec<(u32, u32)> = Vec::new();
    let middle =
        |edge: [u32; 2]| (mesh.points[edge[0] as usize] + mesh.points[edge[1] as usize]) * 0.5;
    for group in all.chunk_by(|a, b| a.0 == b.0) {
        let edge = group[0].0;
        let forward = |(_, t, k): &([u32; 2], u32, u32)| {
            let corners = mesh.triangles[*t as usize];
            corners[*k as usize] == edge[0]
        };
        match group {
            [one] => {
                let corners = mesh.triangles[one.1 as usize];
                let (a, b) = (corners[one.2 as usize], corners[(one.2 as usize + 1) % 3]);
                open.push((b, a));
            }
            [one, two] if forward(one) == forward(two) => {
                return refuse(
                    middle(edge),
                    "the triangles on both sides of an edge face opposite ways".into(),
                    "make all normals face outwards, and export it again",
                );
            }
            [_, _] => {}
            _ => {
                return refuse(
                    middle(edge),
                    format!("{} triangles meet at one edge, allowed are 2", group.len()),
                    "repair the surface so that it encloses one lumen, and export it again",
                );
            }
        }
    }
    open.sort_unstable();
    let mut used = vec![false; open.len()];
    let mut holes = Vec::new();
    for first in 0..open.len() {
        if used[first] {
            continue;
        }
        let start = open[first].0;
        let mut hole = Vec::new();
        let mut at = first;
        loop {
            used[at] = true;
            hole.push(open[at].0);
            let next = open[at].1;
            if next == start {
                break;
            }
            let from = open.partition_point(|e| e.0 < next);
            let onward = (from..open.len())
                .take_while(|i| open[*i].0 == next)
                .find(|i| !used[*i]);
            let Some(onward) = onward else {
                return refuse(
                    mesh.points[next as usize],
                    "the edge of a hole does not close".into(),
                    "repair the surface, and export it again",
                );
            };
            at = onward;
        }
        holes.push(hole);
        if holes.len() > HOLES {
            return refuse(
                mesh.points[start as usize],
                format!("it has more than {HOLES} holes: its triangles do not share their edges"),
                "join points that coincide, and export it again",
            );
        }
    }
    Ok(holes)
}

/// The connected pieces: that of each triangle, and how many triangles each has.
pub(super) fn pieces(mesh: &Mesh) -> (Vec<usize>, Vec<usize>) {
    let neighbours = mesh.neighbours();
    let mut piece = vec![usize::MAX; mesh.triangles.len()];
    let mut sizes: Vec<usize> = Vec::new();
    for start in 0..mesh.triangles.len() {
        if piece[start] != usize::MAX {
            continue;
        }
        let number = sizes.len();
        sizes.push(0);
        piece[start] = number;
        let mut waiting = vec![start];
        while let Some(t) = waiting.pop() {
            sizes[number] += 1;
            for n in neighbours[t] {
                if let Some(place) = piece.get_mut(n as usize)
                    && *place == usize::MAX
                {
                    *place = number;
                    waiting.push(n as usize);
                }
            }
        }
    }
    (piece, sizes)
}

/// Refuses points at which so many triangles meet that normals there would take long.
pub(super) fn no_wide_fan(mesh: &Mesh) -> Checked<()> {
    let mut meeting = vec![0_u64; mesh.points.len()];
    for i in mesh.triangles.iter().flatten() {
        meeting[*i as usize] += 1;
    }
    if meeting.iter().map(|n| n * n).sum::<u64>() <= FANS {
        return Ok(());
    }
    let widest = (0..meeting.len()).max_by_key(|i| meeting[*i]).unwrap_or(0);
    refuse(
        mesh.points[widest],
        format!("{} triangles meet at one point", meeting[widest]),
        "remesh it with triangles about as long as they are wide, and export it again",
    )
}

/// Refuses more than one piece.
pub(super) fn one_piece(mesh: &Mesh) -> Checked<()> {
    let (piece, sizes) = pieces(mesh);
    if sizes.len() == 1 {
        return Ok(());
    }
    let mut order: Vec<usize> = (0..sizes.len()).collect();
    order.sort_by_key(|number| std::cmp::Reverse(sizes[*number]));
    let (largest, second) = (sizes[order[0]], sizes[order[1]]);
    let at = piece.iter().position(|p| *p == order[1]).unwrap_or(0);
    refuse(
        mesh.corners(at)[0],
        format!(
            "it is {} pieces (the largest has {largest} triangles, the next {second}); allowed is \
             one",
            sizes.len()
        ),
        "remove all pieces but the lumen, and export it again",
    )
}

/// Refuses a closed surface with a way round in it: points - edges + faces is 2 less 2 for each.
pub(super) fn no_loop(mesh: &Mesh) -> Checked<()> {
    let (points, triangles) = (mesh.points.len(), mesh.triangles.len());
    let edges = 3 * triangles / 2;
    if points + triangles == edges + 2 {
        return Ok(());
    }
    let missing = (edges + 2).saturating_sub(points + triangles);
    refuse(
        mesh.points[0],
        format!(
            "its lumen runs in a closed way, or touches itself at a point ({} more than a tree has)",
            missing.div_ceil(2)
        ),
        "cut the vessel where it closes the way, and export it again",
    )
}

/// Refuses a surface of which more than a few triangles pass through others. A few are allowed,
/// as segmented and modelled surfaces have them at sharp forks: the warning says how many and
/// where the first one is.
pub(super) fn hardly_through_itself(mesh: &Mesh, bvh: &Bvh) -> Checked<Option<String>> {
    let found: Vec<AtomicBool> = mesh
        .triangles
        .iter()
        .map(|_| AtomicBool::new(false))
        .collect();
    let is_found = |t: usize| found[t].load(Ordering::Relaxed);
    let one_through_other = |t: usize, u: usize| {
        let apart = shared(&mesh.triangles[t], &mesh.triangles[u]) == 0;
        apart.then(|| crossing(&mesh.corners(t), &mesh.corners(u)))?
    };
    let looked = bvh.pairs(PAIRS, |t, u| {
        if !(is_found(t) && is_found(u)) && one_through_other(t, u).is_some() {
            found[t].store(true, Ordering::Relaxed);
            found[u].store(true, Ordering::Relaxed);
        }
    });
    if !looked {
        return refuse(
            mesh.points[0],
            "too many of its triangles lie so close together, or are so long and thin, that it is not told \
             which of them cross"
                .into(),
            "remesh it with triangles about as long as they are wide, and export it again",
        );
    }
    let crossing: Vec<usize> = (0..mesh.triangles.len()).filter(|t| is_found(*t)).collect();
    let place = |t: usize| {
        let mut place = None;
        let (low, high) = box_of(&mesh.corners(t));
        bvh.meeting(&low, &high, |u| {
            place = one_through_other(t, u);
            place.is_some()
        });
        place
    };
    let at = crossing.first().and_then(|t| place(*t));
    let Some(at) = at else {
        return Ok(None);
    };
    let (count, all) = (crossing.len(), mesh.triangles.len());
    if count as f64 > CROSSING * all as f64 {
        return refuse(
            at,
            format!("it passes through itself: {count} of {all} triangles cross others"),
            "repair the surface so that it does not cross itself, and export it again",
        );
    }
    Ok(Some(format!(
        "{count} of {all} triangles pass through others, the first near ({:.1}, {:.1}, {:.1}) mm: \
         the wall is uncertain there",
        at.x, at.y, at.z
    )))
}

fn shared(a: &[u32; 3], b: &[u32; 3]) -> usize {
    a.iter().filter(|i| b.contains(i)).count()
}

/// A point at which an edge of one triangle passes through the inside of the other.
fn crossing(a: &[Vector3<f64>; 3], b: &[Vector3<f64>; 3]) -> Option<Vector3<f64>> {
    edge_through(a, b).or_else(|| edge_through(b, a))
}

/// The point at which the first edge of `a` that does so passes through the inside of `b`.
fn edge_through(a: &[Vector3<f64>; 3], b: &[Vector3<f64>; 3]) -> Option<Vector3<f64>> {
    let normal = (b[1] - b[0]).cross(&(b[2] - b[0]));
    let off = a.map(|p| normal.dot(&(p - b[0])));
    (0..3).find_map(|k| {
        let next = (k + 1) % 3;
        let (from, to) = (off[k], off[next]);
        if from * to >= 0.0 {
            return None;
        }
        let p = a[k] + (a[next] - a[k]) * (from / (from - to));
        let is_inside = (0..3).all(|k| {
            let (u, v) = (b[k], b[(k + 1) % 3]);
            normal.dot(&(v - u).cross(&(p - u))) > 0.0
        });
        is_inside.then_some(p)
    })
}
