//! Centrelines of as many points and branches as one likes.

use super::solids::{cross, noise};

/// Lines through points that they may share.
#[derive(Clone, Default)]
pub struct Lines {
    pub points: Vec<[f64; 3]>,
    pub radii: Vec<f64>,
    pub lines: Vec<Vec<u32>>,
}

impl Lines {
    fn add(&mut self, p: [f64; 3], r: f64) -> u32 {
        self.points.push(p);
        self.radii.push(r);
        self.points.len() as u32 - 1
    }
}

/// One line.
pub fn one(points: usize, place: impl Fn(usize) -> [f64; 3], radius: f64) -> Lines {
    let mut out = Lines::default();
    let line = (0..points).map(|i| out.add(place(i), radius)).collect();
    out.lines.push(line);
    out
}

/// A trunk of `branches` forks, `apart` mm from each other, with branches of `own` points that lie `step` mm apart; each line begins at
/// the trunk, or at the inlet if `from_inlet`, through the points of the trunk.
pub fn trunk(branches: usize, apart: f64, (own, step): (usize, f64), from_inlet: bool) -> Lines {
    let mut out = Lines::default();
    let way = |x: f64| [x, 6.0 * (0.05 * x).sin(), 0.0];
    let trunk: Vec<u32> = (0..=branches + 1)
        .map(|i| out.add(way(apart * i as f64), 2.0))
        .collect();
    for i in 1..=branches {
        let mut line = if from_inlet {
            trunk[..=i].to_vec()
        } else {
            vec![trunk[i]]
        };
        let [x, y, _] = out.points[trunk[i] as usize];
        let side = if i % 2 == 0 { 1.0 } else { -1.0 };
        for k in 1..=own {
            let s = step * k as f64;
            line.push(out.add([x + 0.3 * s, y + 0.1 * s * side, side * s], 0.8));
        }
        out.lines.push(line);
    }
    out.lines.push(trunk);
    out
}

/// A tree that forks in two again and again, `levels` times, in planes that stand across each other, with
/// `own` points a branch.
pub fn twofold(levels: u32, own: usize) -> Lines {
    let mut out = Lines::default();
    let root = out.add([0.0; 3], 3.0);
    let mut ends = vec![(root, [0.0, 0.0, 1.0], [1.0, 0.0, 0.0])];
    let (cos, sin) = (0.77, 0.64);
    for level in 0..levels {
        let length = 40.0 * 0.76_f64.powi(level as i32);
        let radius = 3.0 * 0.8_f64.powi(level as i32);
        let mut next = Vec::new();
        for (from, along, aside) in ends {
            for side in [-1.0, 1.0] {
                let turned = [0, 1, 2].map(|a| cos * along[a] + side * sin * aside[a]);
                let start = out.points[from as usize];
                let mut line = vec![from];
                for i in 1..=own {
                    let s = length * i as f64 / own as f64;
                    line.push(out.add([0, 1, 2].map(|a| start[a] + s * turned[a]), radius));
                }
                next.push((line[own], turned, cross(along, aside)));
                out.lines.push(line);
            }
        }
        ends = next;
    }
    out
}

/// All points in one place joined with a first one.
pub fn star(points: usize) -> Lines {
    let mut out = Lines::default();
    let root = out.add([0.0; 3], 1.0);
    for i in 1..points {
        let direction = [noise(3 * i), noise(3 * i + 1), noise(3 * i + 2)];
        let p = out.add(direction.map(|x| 60.0 * x), 0.5);
        out.lines.push(vec![root, p]);
    }
    out
}

/// `copies` lines along almost the same way.
pub fn bundle(copies: usize, points: usize) -> Lines {
    let mut out = Lines::default();
    for c in 0..copies {
        let line = (0..points)
            .map(|i| {
                let x = 200.0 * i as f64 / points as f64;
                let n = c * points + i;
                let y = 5.0 * (0.1 * x).sin() + 0.02 * noise(n);
                out.add([x, y, 0.02 * noise(n + 7)], 1.5)
            })
            .collect();
        out.lines.push(line);
    }
    out
}
