//! Surfaces of as many triangles as one likes, sound, odd and hostile ones.

use std::collections::{HashMap, HashSet};
use std::f64::consts::TAU;

type Point = [f64; 3];

/// A surface of triangles.
#[derive(Clone, Default)]
pub struct Solid {
    pub points: Vec<Point>,
    pub faces: Vec<[u32; 3]>,
}

/// Numbers between -0.5 and 0.5 that look random: the same for the same number.
pub fn noise(i: usize) -> f64 {
    let mut x = (i as u64)
        .wrapping_add(1)
        .wrapping_mul(0x9e37_79b9_7f4a_7c15);
    x ^= x >> 31;
    x = x.wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x ^= x >> 29;
    (x >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
}

pub fn cross(a: Point, b: Point) -> Point {
    [0, 1, 2].map(|i| a[(i + 1) % 3] * b[(i + 2) % 3] - a[(i + 2) % 3] * b[(i + 1) % 3])
}

fn unit(a: Point) -> Point {
    let length = a.iter().map(|x| x * x).sum::<f64>().sqrt();
    a.map(|x| x / length)
}

impl Solid {
    fn add(&mut self, p: Point) -> u32 {
        self.points.push(p);
        self.points.len() as u32 - 1
    }

    /// The same with all triangles turned round.
    pub fn inside_out(mut self) -> Self {
        self.faces.iter_mut().for_each(|f| f.swap(1, 2));
        self
    }

    /// Both surfaces.
    pub fn and(mut self, other: &Self) -> Self {
        let from = self.points.len() as u32;
        self.points.extend(&other.points);
        self.faces
            .extend(other.faces.iter().map(|f| f.map(|i| i + from)));
        self
    }

    /// The same with its points changed.
    pub fn moved(mut self, change: impl Fn(usize, Point) -> Point) -> Self {
        for (i, p) in self.points.iter_mut().enumerate() {
            *p = change(i, *p);
        }
        self
    }

    /// Without the faces of these numbers.
    pub fn without(mut self, gone: impl Fn(usize) -> bool) -> Self {
        let mut number = 0;
        self.faces.retain(|_| {
            number += 1;
            !gone(number - 1)
        });
        self
    }
}

/// A tube of `along` rings of `around` points about a course whose argument runs from 0 to 1.
pub fn tube(
    [along, around]: [usize; 2],
    course: impl Fn(f64) -> Point,
    radius: impl Fn(usize) -> f64,
    capped: bool,
) -> Solid {
    let mut out = Solid::default();
    for i in 0..along {
        let s = i as f64 / (along - 1) as f64;
        let (before, middle, after) = (course(s - 1e-6), course(s), course(s + 1e-6));
        let tangent = unit([0, 1, 2].map(|k| after[k] - before[k]));
        let u = unit(cross(tangent, [0.123, 0.05, 1.0]));
        let v = cross(tangent, u);
        for j in 0..around {
            let (sin, cos) = (TAU * j as f64 / around as f64).sin_cos();
            let r = radius(i * around + j);
            out.add([0, 1, 2].map(|k| middle[k] + r * (cos * u[k] + sin * v[k])));
        }
    }
    let at = |i: usize, j: usize| (i * around + j % around) as u32;
    for i in 1..along {
        for j in 0..around {
            let [a, b, c, d] = [at(i - 1, j), at(i - 1, j + 1), at(i, j + 1), at(i, j)];
            out.faces.extend([[a, b, c], [a, c, d]]);
        }
    }
    if capped {
        for (i, s) in [(0, 0.0), (along - 1, 1.0)] {
            let middle = out.add(course(s));
            for j in 0..around {
                let face = [at(i, j), at(i, j + 1), middle];
                out.faces.push(if i == 0 {
                    [face[1], face[0], face[2]]
                } else {
                    face
                });
            }
        }
    }
    out
}

/// A course of some bends, `length` mm long in all.
pub fn bends(length: f64) -> impl Fn(f64) -> Point {
    move |s| {
        [
            length * s,
            0.04 * length * (12.0 * s).sin(),
            0.03 * length * (9.0 * s).cos(),
        ]
    }
}

/// The surface of a heap of cubes of 1 mm; each square is cut into `fine` times `fine`.
pub fn cubes(heap: &HashSet<[i32; 3]>, fine: i32) -> Solid {
    let mut out = Solid::default();
    let mut known: HashMap<[i32; 3], u32> = HashMap::new();
    let mut sorted: Vec<[i32; 3]> = heap.iter().copied().collect();
    sorted.sort_unstable();
    for cube in sorted {
        for axis in 0..3 {
            for side in [0, 1] {
                let mut beside = cube;
                beside[axis] += 2 * side - 1;
                if heap.contains(&beside) {
                    continue;
                }
                let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
                for (i, j) in (0..fine).flat_map(|i| (0..fine).map(move |j| (i, j))) {
                    let mut corner = |a: i32, b: i32| {
                        let mut at = cube.map(|x| x * fine);
                        at[axis] += side * fine;
                        at[u] += i + a;
                        at[v] += j + b;
                        *known
                            .entry(at)
                            .or_insert_with(|| out.add(at.map(|x| f64::from(x) / f64::from(fine))))
                    };
                    let [a, b, c, d] = [corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)];
                    let two = [[a, b, c], [a, c, d]];
                    let turned = two.map(|[a, b, c]| [a, c, b]);
                    out.faces.extend(if side == 1 { two } else { turned });
                }
            }
        }
    }
    out
}

/// A way that goes to and fro in rows of `row` cubes, `rows` of them, in as many layers as needed.
pub fn to_and_fro(cubes: usize, row: i32, rows: i32) -> Vec<[i32; 3]> {
    let mut way = Vec::new();
    let (mut p, mut dx, mut dy) = ([0, 0, 0], 1, 1);
    while way.len() < cubes {
        way.push(p);
        let inside = |x: i32, most: i32| (0..most).contains(&x);
        let (axis, by) = if inside(p[0] + dx, row) {
            (0, dx)
        } else if inside(p[1] + 2 * dy, 2 * rows) {
            dx = -dx;
            (1, 2 * dy)
        } else {
            (dx, dy) = (-dx, -dy);
            (2, 2)
        };
        for _ in 0..i32::abs(by) {
            if way.last() != Some(&p) {
                way.push(p);
            }
            p[axis] += i32::signum(by);
        }
    }
    way
}

/// A spine that goes to and fro in one layer, with `teeth` teeth of `long` cubes.
pub fn comb(teeth: usize, long: i32) -> HashSet<[i32; 3]> {
    let spine = to_and_fro(3 * teeth, 380, 100_000);
    let on_spine = spine.iter().filter(|p| p[1] % 2 == 0 && p[0] % 2 == 0);
    let roots: Vec<[i32; 3]> = on_spine.copied().take(teeth).collect();
    let mut heap: HashSet<[i32; 3]> = spine.into_iter().collect();
    for root in roots {
        heap.extend((1..=long).map(|z| [root[0], root[1], z]));
    }
    heap
}

/// Small pyramids that stand apart, on a grid.
pub fn crumbs(count: usize) -> Solid {
    let mut out = Solid::default();
    for i in 0..count {
        let at = [i % 60, i / 60 % 60, i / 3600].map(|k| k as f64 * 2.0);
        let [a, b, c, d] = [[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]
            .map(|q| out.add([0, 1, 2].map(|k| at[k] + f64::from(q[k]))));
        out.faces
            .extend([[a, c, b], [a, b, d], [b, c, d], [a, d, c]]);
    }
    out
}
