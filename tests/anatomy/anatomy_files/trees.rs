//! Random trees whose every measure is known, and the lines that a program could write of them.

use bendwise::anatomy::Frame;
use nalgebra::{Rotation3, Unit, Vector3};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Samples along a branch in mm.
const STEP: f64 = 0.5;
/// Largest turn of a branch in rad: beyond that it may come back to itself.
const TURN: f64 = 2.2;
/// Branches of one fork are close to each other up to this far along them, in mm.
const CLOSE: f64 = 12.0;

/// A branch of a known tree, in mm.
#[derive(Debug, Clone)]
pub struct Branch {
    pub parent: Option<usize>,
    pub points: Vec<Vector3<f64>>,
    pub radii: Vec<f64>,
}

impl Branch {
    pub fn length(&self) -> f64 {
        self.points.windows(2).map(|p| (p[1] - p[0]).norm()).sum()
    }

    fn end(&self) -> (Vector3<f64>, f64) {
        let last = self.points.len() - 1;
        (self.points[last], self.radii[last])
    }

    fn direction(&self) -> Vector3<f64> {
        let last = self.points.len() - 1;
        (self.points[last] - self.points[last - 1]).normalize()
    }
}

/// A tree: every branch ends in a fork of two or in a tip.
#[derive(Debug, Clone)]
pub struct Tree {
    pub branches: Vec<Branch>,
}

/// One line of a file: points, radii, name, and the branch it stands for where it is one.
#[derive(Debug, Clone)]
pub struct Line {
    pub points: Vec<Vector3<f64>>,
    pub radii: Vec<f64>,
    pub branch: usize,
}

/// How the branches of a tree are told as lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Telling {
    /// A line for each branch.
    Branches,
    /// A line from the inlet to each tip.
    FromInlet,
    /// A line from each tip to the inlet.
    FromTips,
    /// A line for each vessel: straight on through forks, side branches from their fork on.
    Vessels,
}

pub fn rng(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

fn square_to(rng: &mut ChaCha8Rng, along: &Vector3<f64>) -> Unit<Vector3<f64>> {
    loop {
        let v = Vector3::from_fn(|_, _| rng.random_range(-1.0..1.0));
        let across: Vector3<f64> = v - along * along.dot(&v);
        if across.norm() > 0.2 {
            return Unit::new_normalize(across);
        }
    }
}

/// A branch that bends by no more than a third of what its lumen allows, about an axis that wanders.
fn grown(
    rng: &mut ChaCha8Rng,
    parent: Option<usize>,
    from: Vector3<f64>,
    along: Vector3<f64>,
    (length, start, end): (f64, f64, f64),
) -> Branch {
    let steps = (length / STEP).ceil();
    let mut branch = Branch {
        parent,
        points: vec![from],
        radii: vec![start],
    };
    let mut along = along.normalize();
    let mut axis = square_to(rng, &along);
    let bend = rng.random_range(0.0..(0.33 / start).min(TURN / length));
    let twist = rng.random_range(-0.1..0.1);
    let mut k = 1.0;
    while k <= steps {
        let turned = Rotation3::from_axis_angle(&axis, bend * length / steps);
        along = (turned * along).normalize();
        let about = Rotation3::from_axis_angle(&Unit::new_normalize(along), twist * STEP);
        axis = Unit::new_normalize(about * axis.into_inner());
        let p = branch.points[branch.points.len() - 1] + along * (length / steps);
        branch.points.push(p);
        branch.radii.push(start + (end - start) * k / steps);
        k += 1.0;
    }
    branch
}

/// A random tree of 1 to 4 forks whose branches keep clear of each other.
pub fn tree(rng: &mut ChaCha8Rng) -> Tree {
    'again: loop {
        let start = rng.random_range(1.3..2.2);
        let first = (rng.random_range(20.0..40.0), start, 0.92 * start);
        let along = Vector3::from_fn(|_, _| rng.random_range(-1.0..1.0));
        let place = Vector3::from_fn(|_, _| rng.random_range(-60.0..60.0));
        let mut branches = vec![grown(rng, None, place, along + Vector3::x() * 1e-3, first)];
        let forks = rng.random_range(1..=4);
        let mut open = vec![0];
        for _ in 0..forks {
            let at = open.remove(rng.random_range(0..open.len()));
            let (point, radius) = branches[at].end();
            let along = branches[at].direction();
            let side = square_to(rng, &along);
            for (angle, share) in [
                (rng.random_range(0.05..0.35), rng.random_range(0.82..0.92)),
                (-rng.random_range(0.7..1.5), rng.random_range(0.55..0.75)),
            ] {
                let turned: f64 = angle;
                let leaves = along * turned.cos() + side.into_inner() * turned.sin();
                let radius: f64 = share * radius;
                let length = rng.random_range(18.0..32.0);
                let sizes = (length, radius, 0.93 * radius);
                open.push(branches.len());
                let new = grown(rng, Some(at), point, leaves, sizes);
                branches.push(new);
            }
        }
        for (i, a) in branches.iter().enumerate() {
            for b in branches.iter().skip(i + 1) {
                if !clear(a, b, i) {
                    continue 'again;
                }
            }
        }
        return Tree { branches };
    }
}

/// Whether two branches keep apart, but for where they leave the same fork; `i` is the number of the
/// first.
fn clear(a: &Branch, b: &Branch, i: usize) -> bool {
    let last = a.points.len() - 1;
    let from_fork = |k: usize| {
        if b.parent == Some(i) {
            Some(STEP * (last - k) as f64)
        } else if a.parent == b.parent {
            Some(STEP * k as f64)
        } else {
            None
        }
    };
    (0..=last).all(|k| {
        (0..b.points.len()).all(|l| {
            let is_close = from_fork(k).is_some_and(|d| d.max(STEP * l as f64) < CLOSE);
            is_close || (a.points[k] - b.points[l]).norm() > a.radii[k] + b.radii[l] + 2.0
        })
    })
}

impl Tree {
    pub fn children(&self, branch: usize) -> Vec<usize> {
        let all = 0..self.branches.len();
        all.filter(|b| self.branches[*b].parent == Some(branch))
            .collect()
    }

    pub fn tips(&self) -> Vec<usize> {
        let all = 0..self.branches.len();
        all.filter(|b| self.children(*b).is_empty()).collect()
    }

    /// The branches from the inlet to one.
    pub fn way(&self, branch: usize) -> Vec<usize> {
        let mut way = vec![branch];
        while let Some(parent) = self.branches[way[0]].parent {
            way.insert(0, parent);
        }
        way
    }

    fn along(&self, way: &[usize]) -> Line {
        let mut line = Line {
            points: Vec::new(),
            radii: Vec::new(),
            branch: *way.last().unwrap(),
        };
        for (k, number) in way.iter().enumerate() {
            let branch = &self.branches[*number];
            // The first sample of a branch is the last one of its parent.
            let from = usize::from(k > 0);
            line.points.extend(&branch.points[from..]);
            line.radii.extend(&branch.radii[from..]);
        }
        line
    }

    /// The tree as lines.
    pub fn told(&self, telling: Telling) -> Vec<Line> {
        match telling {
            Telling::Branches => (0..self.branches.len()).map(|b| self.along(&[b])).collect(),
            Telling::FromInlet => self
                .tips()
                .iter()
                .map(|t| self.along(&self.way(*t)))
                .collect(),
            Telling::FromTips => {
                let mut lines = self.told(Telling::FromInlet);
                lines.iter_mut().for_each(reverse);
                lines
            }
            Telling::Vessels => {
                let mut starts = vec![0];
                let mut lines = Vec::new();
                while let Some(start) = starts.pop() {
                    let mut way = vec![start];
                    // The first child of a fork goes on, the second leaves.
                    while let [on, side] = self.children(way[way.len() - 1])[..] {
                        way.push(on);
                        starts.push(side);
                    }
                    lines.push(self.along(&way));
                }
                lines
            }
        }
    }
}

pub fn reverse(line: &mut Line) {
    line.points.reverse();
    line.radii.reverse();
}

/// What a program and its user do to lines: noise, missing samples, other units and frames, another
/// order, other directions.
pub fn disturb(rng: &mut ChaCha8Rng, lines: &mut [Line], telling: Telling) {
    for line in lines.iter_mut() {
        let last = line.points.len() - 1;
        // A branch's samples at forks are those of its neighbours, and stay.
        for i in 1..last {
            line.points[i] += Vector3::from_fn(|_, _| rng.random_range(-0.03..0.03));
            line.radii[i] *= 1.0 + rng.random_range(-0.03..0.03);
        }
        let mut kept = (0..=last).map(|i| i == 0 || i == last || rng.random_range(0.0..1.0) > 0.15);
        line.points.retain({
            let kept: Vec<bool> = kept.by_ref().collect();
            let mut again = kept.clone().into_iter();
            line.radii.retain(|_| again.next().unwrap_or(true));
            let mut all = kept.into_iter();
            move |_| all.next().unwrap_or(true)
        });
    }
    for i in (1..lines.len()).rev() {
        lines.swap(i, rng.random_range(0..=i));
    }
    if matches!(telling, Telling::Branches | Telling::Vessels) {
        for line in lines.iter_mut() {
            if rng.random_range(0..2) == 1 {
                reverse(line);
            }
        }
    }
}

/// The tree as the program sees it when no frame is stated.
pub fn in_scene(p: &Vector3<f64>) -> Vector3<f64> {
    Frame::LeftPosteriorSuperior.to_scene() * p
}
