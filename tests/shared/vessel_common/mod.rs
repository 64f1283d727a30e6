//! Descriptions of vessels for the tests.
#![allow(dead_code, reason = "every test file uses a part of this")]

use bendwise::scenario::model::{
    AttachmentSpec, BranchSpec, NarrowingSpec, PathSpec, PieceSpec, Place, VesselSpec,
};
use bendwise::vessel::Tree;
use nalgebra::{Rotation3, Vector3};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A vessel of these branches.
pub fn vessel(branches: Vec<BranchSpec>, carina_blend_mm: f64) -> VesselSpec {
    VesselSpec {
        carina_blend_mm,
        wall: 100.0.into(),
        ..VesselSpec::new(branches)
    }
}

/// Place of the branch that the refusal tests look at.
pub fn here() -> Place {
    Place::top("vessel").field("branch").entry(7)
}

/// An inlet along x from the origin.
pub fn inlet(name: &str, pieces: Vec<PieceSpec>, diameter: f64) -> BranchSpec {
    BranchSpec {
        name: name.to_owned(),
        attached: None,
        path: PathSpec::Pieces {
            start_mm: Vector3::zeros(),
            direction: Vector3::x(),
            take_off_rad: 0.0,
            take_off_plane_rad: 0.0,
            pieces,
        },
        diameters: vec![(0.0, diameter)],
        place: here(),
    }
}

/// A branch that leaves `parent` at a station, a take-off angle and a plane.
pub fn side(
    name: &str,
    parent: (&str, f64),
    take_off: (f64, f64),
    pieces: Vec<PieceSpec>,
    diameter: f64,
) -> BranchSpec {
    BranchSpec {
        attached: Some(AttachmentSpec {
            parent: parent.0.to_owned(),
            station_mm: Some(parent.1),
            place: here(),
        }),
        path: PathSpec::Pieces {
            start_mm: Vector3::zeros(),
            direction: Vector3::x(),
            take_off_rad: take_off.0,
            take_off_plane_rad: take_off.1,
            pieces,
        },
        ..inlet(name, Vec::new(), diameter)
    }
}

/// A branch through points, with diameters equally spaced over the length of its chords.
pub fn through(
    name: &str,
    parent: Option<&str>,
    points: &[[f64; 3]],
    diameters: &[f64],
) -> BranchSpec {
    let points: Vec<Vector3<f64>> = points.iter().map(|&p| p.into()).collect();
    let length: f64 = points.windows(2).map(|p| (p[1] - p[0]).norm()).sum();
    let last = (diameters.len() - 1).max(1);
    BranchSpec {
        attached: parent.map(|parent| AttachmentSpec {
            parent: parent.to_owned(),
            station_mm: None,
            place: here(),
        }),
        path: PathSpec::Points(points),
        diameters: diameters
            .iter()
            .enumerate()
            .map(|(i, &d)| (length * i as f64 / last as f64, d))
            .collect(),
        ..inlet(name, Vec::new(), 1.0)
    }
}

pub fn straight(length_mm: f64) -> PieceSpec {
    PieceSpec::Straight { length_mm }
}

pub fn arc(radius_mm: f64, degrees: f64, plane_degrees: f64) -> PieceSpec {
    PieceSpec::Arc {
        radius_mm,
        angle_rad: degrees.to_radians(),
        plane_rad: plane_degrees.to_radians(),
    }
}

pub fn narrowing(branch: &str, station_mm: f64, length_mm: f64, diameter_mm: f64) -> NarrowingSpec {
    NarrowingSpec {
        branch: branch.to_owned(),
        station_mm,
        length_mm,
        diameter_mm,
        place: here(),
    }
}

/// Random numbers with a fixed seed.
pub struct Draw(ChaCha8Rng);

impl Draw {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Uniform between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.0.next_u32() as f64 / f64::from(u32::MAX))
    }

    /// Uniform among the numbers below `count`.
    pub fn below(&mut self, count: usize) -> usize {
        self.0.next_u32() as usize % count
    }

    /// Uniform on the unit sphere.
    pub fn direction(&mut self) -> Vector3<f64> {
        let z = self.between(-1.0, 1.0);
        let a = self.between(0.0, std::f64::consts::TAU);
        let r = (1.0 - z * z).sqrt();
        Vector3::new(r * a.cos(), r * a.sin(), z)
    }

    /// A point near a tree: off the axis of a random branch by up to `reach` lumen radii.
    pub fn near(&mut self, tree: &Tree, reach: f64) -> Vector3<f64> {
        let i = self.below(tree.branches().len());
        let c = &tree.branches()[i].centreline;
        let s = self.between(0.0, c.length_mm());
        c.position(s) + self.direction() * (self.between(0.0, reach) * c.radius(s))
    }

    /// A tree through random points: an inlet and some branches on it and on each other.
    pub fn tree(&mut self, branches: usize, blend: f64) -> VesselSpec {
        let mut list = vec![through(
            "b0",
            None,
            &self.path([0.0; 3].into(), Vector3::x(), 8),
            &[3.6, 2.0],
        )];
        for i in 1..branches {
            let on = self.below(i);
            let PathSpec::Points(points) = &list[on].path else {
                panic!("made of points")
            };
            let at = 1 + self.below(points.len() - 2);
            let along = (points[at] - points[at - 1]).normalize();
            let across = along.cross(&self.direction()).normalize();
            let turn = self.between(0.5, 1.4);
            let path = self.path(points[at], along * turn.cos() + across * turn.sin(), 5);
            let parent = format!("b{on}");
            list.push(through(&format!("b{i}"), Some(&parent), &path, &[1.8, 1.2]));
        }
        vessel(list, blend)
    }

    fn path(&mut self, start: Vector3<f64>, along: Vector3<f64>, steps: usize) -> Vec<[f64; 3]> {
        let mut points = vec![start.into()];
        let mut at = start;
        let mut along = along;
        for _ in 0..steps {
            at += along * self.between(5.0, 8.0);
            points.push(at.into());
            let axis = nalgebra::Unit::new_normalize(self.direction());
            along = Rotation3::from_axis_angle(&axis, self.between(-0.6, 0.6)) * along;
        }
        points
    }
}
