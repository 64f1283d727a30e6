//! Mends what can be mended without a change of meaning: points that coincide, triangles that are
//! there twice, small pieces beside the lumen, triangles that face the other way.

use std::collections::HashMap;

use super::caps;
use super::mesh::Mesh;
use super::sound;
use crate::anatomy::error::Checked;
use crate::anatomy::tree::Changes;
use crate::shown::counted;

/// A piece with less than this share of the largest piece's triangles is loose and dropped.
const LOOSE: f64 = 0.02;

/// Mends a surface and says what was done.
pub(super) fn mend(mesh: &mut Mesh, changes: &mut Changes) {
    let welded = weld(mesh);
    if welded > 0 {
        let text = format!(
            "{} in the same place as others joined with them",
            counted(welded, "point", "points")
        );
        changes.notes.push(text);
    }
    let flat = sound::tidy(mesh);
    if flat > 0 {
        let text = format!(
            "{} without area dropped",
            counted(flat, "triangle", "triangles")
        );
        changes.notes.push(text);
    }
    let twice = once_each(mesh);
    if twice > 0 {
        let text = format!(
            "{} there twice dropped",
            counted(twice, "triangle that was", "triangles that were")
        );
        changes.notes.push(text);
    }
    let loose = without_loose_pieces(mesh);
    if loose.0 > 0 {
        let text = format!(
            "{} beside the lumen dropped, {} together",
            counted(loose.0, "small piece", "small pieces"),
            counted(loose.1, "triangle", "triangles")
        );
        changes.notes.push(text);
    }
    if welded + flat + twice + loose.0 > 0 {
        sound::tidy(mesh);
    }
    let turned = to_one_side(mesh);
    if turned > 0 {
        let text = format!(
            "{} turned that faced the other way than {} neighbours",
            counted(turned, "triangle", "triangles"),
            if turned == 1 { "its" } else { "their" }
        );
        changes.notes.push(text);
    }
}

/// Turns all triangles round if they face into the lumen, and says so.
pub(super) fn outwards(mesh: &mut Mesh, changes: &mut Changes) -> Checked<()> {
    let mut closed = mesh.clone();
    let holes = sound::holes(mesh)?;
    caps::close(&mut closed, &holes, &vec![0.0; holes.len()]);
    let volume = closed.volume();
    if volume < 0.0 {
        for t in &mut mesh.triangles {
            t.swap(1, 2);
        }
        let text = format!(
            "all {} triangles turned round: they faced into the lumen (the enclosed volume was \
             {volume:.1} mm³)",
            mesh.triangles.len()
        );
        changes.notes.push(text);
    }
    Ok(())
}

/// Joins points with the same coordinates; gives how many went.
fn weld(mesh: &mut Mesh) -> usize {
    let mut known: HashMap<[u64; 3], u32> = HashMap::with_capacity(mesh.points.len());
    let mut place = Vec::with_capacity(mesh.points.len());
    let mut kept = Vec::with_capacity(mesh.points.len());
    for p in &mesh.points {
        // Adding 0 makes minus zero zero.
        let bits = [p.x + 0.0, p.y + 0.0, p.z + 0.0].map(f64::to_bits);
        let next = u32::try_from(kept.len()).unwrap_or(u32::MAX);
        place.push(*known.entry(bits).or_insert_with(|| {
            kept.push(*p);
            next
        }));
    }
    let gone = mesh.points.len() - kept.len();
    if gone > 0 {
        for triangle in &mut mesh.triangles {
            *triangle = triangle.map(|i| place[i as usize]);
        }
        mesh.points = kept;
    }
    gone
}

/// Keeps one of triangles with the same corners; gives how many went.
fn once_each(mesh: &mut Mesh) -> usize {
    let before = mesh.triangles.len();
    let mut keys: Vec<([u32; 3], usize)> = mesh
        .triangles
        .iter()
        .enumerate()
        .map(|(number, t)| {
            let mut key = *t;
            key.sort_unstable();
            (key, number)
        })
        .collect();
    keys.sort_unstable();
    keys.dedup_by_key(|k| k.0);
    if keys.len() < before {
        let mut kept: Vec<usize> = keys.into_iter().map(|k| k.1).collect();
        kept.sort_unstable();
        mesh.triangles = kept.into_iter().map(|i| mesh.triangles[i]).collect();
    }
    before - mesh.triangles.len()
}

/// Drops pieces that are small beside the largest; gives how many, and their triangles.
fn without_loose_pieces(mesh: &mut Mesh) -> (usize, usize) {
    let (piece, sizes) = sound::pieces(mesh);
    let most = sizes.iter().copied().max().unwrap_or(0);
    let is_loose = |size: usize| (size as f64) < LOOSE * most as f64;
    let loose = sizes.iter().filter(|s| is_loose(**s));
    let found = (loose.clone().count(), loose.sum());
    if found.0 > 0 {
        let mut number = 0;
        mesh.triangles.retain(|_| {
            number += 1;
            !is_loose(sizes[piece[number - 1]])
        });
    }
    found
}

/// Turns triangles so that neighbours run along their common edge in opposite ways; gives how many
/// were turned, in each piece the fewer.
fn to_one_side(mesh: &mut Mesh) -> usize {
    let neighbours = mesh.neighbours();
    let n = mesh.triangles.len();
    let mut turn = vec![false; n];
    let mut seen = vec![false; n];
    let mut all = 0;
    for start in 0..n {
        if seen[start] {
            continue;
        }
        seen[start] = true;
        let mut piece = vec![start];
        let mut at = 0;
        while at < piece.len() {
            let t = piece[at];
            at += 1;
            for k in 0..3 {
                let u = neighbours[t][k] as usize;
                if u >= n || seen[u] {
                    continue;
                }
                seen[u] = true;
                let (a, b) = (mesh.triangles[t][k], mesh.triangles[t][(k + 1) % 3]);
                let other = mesh.triangles[u];
                let along = (0..3).any(|l| other[l] == a && other[(l + 1) % 3] == b);
                turn[u] = turn[t] != along;
                piece.push(u);
            }
        }
        let turned = piece.iter().filter(|t| turn[**t]).count();
        if 2 * turned > piece.len() {
            for t in &piece {
                turn[*t] = !turn[*t];
            }
        }
        all += turned.min(piece.len() - turned);
    }
    for (t, turn) in mesh.triangles.iter_mut().zip(turn) {
        if turn {
            t.swap(1, 2);
        }
    }
    all
}
