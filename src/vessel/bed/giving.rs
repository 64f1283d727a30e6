//! The axes of a vessel that give way: which displacements there are, and the energy that they cost.

use std::sync::Arc;

use nalgebra::{Matrix3, Vector3};

use super::bending::{AtRest, WallBeam};
use super::motion::Motion;
use super::spline::{Basis, Knots, SUPPORT};
use super::station::Station;
use super::stiffness::{Bed, WallStiffness};
use super::tie::Tie;
use crate::vessel::tree::{Branch, Tree};

/// Gauss points in an interval between two knots, from -1 to 1, and their weights.
const GAUSS: [(f64, f64); 3] = [
    (-0.774_596_669_241_483_4, 5.0 / 9.0),
    (0.0, 8.0 / 9.0),
    (0.774_596_669_241_483_4, 5.0 / 9.0),
];
/// Stiffness in mN/mm² with which a branch is tied to its parent inside the parent's lumen: a hundred
/// times that of a firm bed.
const TIE_MN_PER_MM2: f64 = 3000.0;
/// Points at which it is tied.
const TIES: u32 = 4;

/// A part of a vessel: numbers of the stations and of the ties in it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Part {
    stations: Vec<usize>,
    ties: Vec<usize>,
}

/// The axes of all branches of a tree, each on its bed.
///
/// Unknowns are the control vectors of the displacements in mm, branch after branch ([`Knots`]). An
/// inlet is held at its start, with its direction; a branch goes and turns with its parent.
#[derive(Debug, Clone)]
pub struct GivingVessel {
    bed: Bed,
    knots: Vec<Knots>,
    stations: Vec<Station>,
    ties: Vec<Tie>,
    fixed: Vec<bool>,
    reach_mm: f64,
    motion: Option<Arc<Motion>>,
}

impl GivingVessel {
    /// The vessel of `tree` on that bed.
    #[must_use]
    pub fn new(tree: &Tree, bed: Bed) -> Self {
        let mut knots = Vec::new();
        let mut controls = 0;
        for branch in tree.branches() {
            let of = Knots::over(branch.centreline.length_mm(), bed.spacing_mm, controls);
            controls += of.controls();
            knots.push(of);
        }
        let mut vessel = Self {
            bed,
            stations: Vec::new(),
            ties: Vec::new(),
            fixed: vec![false; controls],
            knots,
            reach_mm: reach_mm(tree, &bed),
            motion: None,
        };
        for (number, branch) in tree.branches().iter().enumerate() {
            vessel.add_stations(number, branch);
            match branch.parent {
                Some(parent) => vessel.tie(number, branch, parent, tree),
                None => {
                    let first = vessel.knots[number].first;
                    vessel.fixed[first..first + SUPPORT - 1].fill(true);
                }
            }
        }
        vessel
    }

    /// The axes of `tree`, which nothing moves but a movement of their own.
    #[must_use]
    pub fn carried(tree: &Tree) -> Self {
        // It holds nothing: no axis is moved against it.
        let bed = Bed {
            across: 1.0,
            along: 1.0,
            wall: WallStiffness::Beam(WallBeam {
                bending: 0.0,
                axial: 0.0,
            }),
            spacing_mm: 1.0,
        };
        Self::new(tree, bed).without_give()
    }

    /// The same with axes that nothing moves but their own movement.
    #[must_use]
    pub fn without_give(mut self) -> Self {
        self.fixed.fill(true);
        self
    }

    /// The same with inlets that are not held.
    #[must_use]
    pub fn with_free_inlet(mut self) -> Self {
        self.fixed.fill(false);
        self
    }

    fn add_stations(&mut self, number: usize, branch: &Branch) {
        let knots = self.knots[number];
        for interval in 0..knots.intervals {
            for (at, weight) in GAUSS {
                let from = crate::vessel::path::number(interval);
                let station = (from + 0.5 + 0.5 * at) * knots.spacing_mm;
                let (tangent, curvature) = (
                    branch.centreline.tangent(station),
                    branch.centreline.curvature(station),
                );
                self.stations.push(Station {
                    basis: knots.basis(station),
                    wall: self.bed.wall.at(branch.centreline.radius(station)),
                    branch: number,
                    at_mm: station,
                    lumen_mm: branch.centreline.radius(station),
                    rest: AtRest {
                        tangent,
                        curvature,
                        first: tangent,
                        second: curvature,
                    },
                    weight: 0.5 * weight * knots.spacing_mm,
                    held: branch.parent.is_none() || station >= branch.ostium_mm,
                });
            }
        }
    }

    fn tie(&mut self, number: usize, branch: &Branch, (parent, at_mm): (usize, f64), tree: &Tree) {
        let of_parent = &tree.branches()[parent].centreline;
        let length = branch
            .ostium_mm
            .clamp(self.knots[number].spacing_mm, branch.centreline.length_mm());
        for k in 0..TIES {
            let station = length * f64::from(k) / f64::from(TIES - 1);
            self.ties.push(Tie {
                branch: self.knots[number].basis(station),
                parent: self.knots[parent].basis(at_mm),
                tangent: of_parent.tangent(at_mm),
                arm: branch.centreline.position(station) - of_parent.position(at_mm),
                stiffness: TIE_MN_PER_MM2 * length / f64::from(TIES),
            });
        }
    }

    /// The same vessel with a movement of its own.
    #[must_use]
    pub fn with_motion(mut self, motion: impl Into<Arc<Motion>>) -> Self {
        self.motion = Some(motion.into());
        self
    }

    /// The vessel's own movement.
    #[must_use]
    pub fn motion(&self) -> Option<&Motion> {
        self.motion.as_deref()
    }

    /// What holds the vessel.
    #[must_use]
    pub fn bed(&self) -> &Bed {
        &self.bed
    }

    /// Distance in mm beyond which a point of the axis is hardly moved by what acts on it: the widest
    /// lumen and three lengths in which a beam on the bed swings back, after which 5 % of a deflection are
    /// left.
    #[must_use]
    pub fn reach_mm(&self) -> f64 {
        self.reach_mm
    }

    /// Where energy is counted, branch after branch.
    pub(super) fn stations(&self) -> impl Iterator<Item = &Station> {
        self.stations.iter()
    }

    /// The knots of each branch.
    #[must_use]
    pub fn knots(&self) -> &[Knots] {
        &self.knots
    }

    /// Number of control vectors.
    #[must_use]
    pub fn controls(&self) -> usize {
        self.fixed.len()
    }

    /// Whether a control vector stays 0.
    #[must_use]
    pub fn is_fixed(&self, control: usize) -> bool {
        self.fixed[control]
    }

    /// The axis at rest at each place where energy is counted, where the vessel's own movement has `carried`
    /// it; empty for one that stands.
    #[must_use]
    pub(crate) fn at_rest(&self, carried: &[Vector3<f64>]) -> Vec<AtRest> {
        self.stations.iter().map(|s| s.rest_in(carried)).collect()
    }

    /// What of the energy may change with the control vectors that count by `counts`.
    pub(crate) fn part(&self, counts: impl Fn(usize) -> bool) -> Part {
        let any = |basis: &Basis| (basis.first..basis.first + SUPPORT).any(&counts);
        let stations = self.stations.iter().enumerate();
        let ties = self.ties.iter().enumerate();
        Part {
            stations: stations
                .filter_map(|(k, station)| any(&station.basis).then_some(k))
                .collect(),
            ties: ties
                .filter_map(|(k, tie)| (any(&tie.branch) || any(&tie.parent)).then_some(k))
                .collect(),
        }
    }

    /// Elastic energy of wall and bed at the control vectors `moved`, in mN mm, of a vessel whose own
    /// movement has `carried` it; empty for one that stands.
    #[must_use]
    pub fn energy(&self, moved: &[Vector3<f64>], carried: &[Vector3<f64>]) -> f64 {
        let part = self.part(|j| moved[j] != Vector3::zeros());
        self.energy_of(&part, moved, (carried, &self.at_rest(carried)))
    }

    /// The same of a part, with the axis at rest at hand, see [`Self::at_rest`].
    pub(crate) fn energy_of(
        &self,
        part: &Part,
        moved: &[Vector3<f64>],
        (carried, at_rest): (&[Vector3<f64>], &[AtRest]),
    ) -> f64 {
        let mut sum = 0.0;
        for &k in &part.stations {
            let (station, rest) = (&self.stations[k], &at_rest[k]);
            let [u, v, w] = station.moved(moved, rest);
            let mut here = station.wall.energy(rest, &v, &w);
            if station.held {
                here += 0.5 * self.bed.energy(rest, &u);
            }
            sum += station.weight * here;
        }
        let ties = part.ties.iter().map(|&k| &self.ties[k]);
        sum + ties.map(|tie| tie.energy(moved, carried)).sum::<f64>()
    }

    /// Adds the forces in mN of a part at the control vectors `moved` to `gradient`, with the axis at rest at
    /// hand.
    pub(crate) fn add_gradient(
        &self,
        part: &Part,
        moved: &[Vector3<f64>],
        (carried, at_rest): (&[Vector3<f64>], &[AtRest]),
        gradient: &mut [Vector3<f64>],
    ) {
        for &k in &part.stations {
            let (station, rest) = (&self.stations[k], &at_rest[k]);
            let [u, v, w] = station.moved(moved, rest);
            let beam = station.wall.gradient(rest, &v, &w);
            let force = if station.held {
                self.bed.stiffness(rest) * u
            } else {
                Vector3::zeros()
            };
            let b = &station.basis;
            for i in 0..SUPPORT {
                gradient[b.first + i] +=
                    (force * b.value[i] + beam[0] * b.slope[i] + beam[1] * b.bend[i])
                        * station.weight;
            }
        }
        for &k in &part.ties {
            self.ties[k].add_gradient(moved, carried, gradient);
        }
    }

    /// Adds the derivatives of the energy at the control vectors `moved`: forces in mN to `gradient`,
    /// and by `add` the second derivatives in mN/mm by two control vectors, both ways round.
    pub fn add_derivatives(
        &self,
        moved: &[Vector3<f64>],
        carried: &[Vector3<f64>],
        gradient: &mut [Vector3<f64>],
        mut add: impl FnMut(usize, usize, &Matrix3<f64>),
    ) {
        let at_rest = self.at_rest(carried);
        let all = self.part(|_| true);
        let rest = (carried, &*at_rest);
        self.add_derivatives_of(&all, moved, rest, gradient, |i, j, block| {
            add(i, j, block);
            if i != j {
                add(j, i, &block.transpose());
            }
        });
    }

    /// The same of a part, with the axis at rest at hand; second derivatives by a control vector and one that is
    /// not before it.
    pub(crate) fn add_derivatives_of(
        &self,
        part: &Part,
        moved: &[Vector3<f64>],
        (carried, at_rest): (&[Vector3<f64>], &[AtRest]),
        gradient: &mut [Vector3<f64>],
        mut add: impl FnMut(usize, usize, &Matrix3<f64>),
    ) {
        for &k in &part.stations {
            let (station, rest) = (&self.stations[k], &at_rest[k]);
            let [u, v, w] = station.moved(moved, rest);
            let beam = station.wall.derivatives(rest, &v, &w);
            let (force, stiffness) = if station.held {
                let stiffness = self.bed.stiffness(rest);
                (stiffness * u, stiffness)
            } else {
                (Vector3::zeros(), Matrix3::zeros())
            };
            let b = &station.basis;
            let [vv, vw, ww] = beam.hessian.map(|h| h * station.weight);
            let stiffness = stiffness * station.weight;
            for i in 0..SUPPORT {
                let (n, s, c) = (b.value[i], b.slope[i], b.bend[i]);
                gradient[b.first + i] +=
                    (force * n + beam.gradient[0] * s + beam.gradient[1] * c) * station.weight;
                for j in i..SUPPORT {
                    let (n2, s2, c2) = (b.value[j], b.slope[j], b.bend[j]);
                    let block = stiffness * (n * n2)
                        + vv * (s * s2)
                        + vw * (s * c2)
                        + vw.transpose() * (c * s2)
                        + ww * (c * c2);
                    add(b.first + i, b.first + j, &block);
                }
            }
        }
        for &k in &part.ties {
            self.ties[k].add_derivatives(moved, carried, gradient, &mut add);
        }
    }
}

/// See [`GivingVessel::reach_mm`]. The device in the vessel makes the beam stiffer, here by as much as
/// a wire behind its soft end is.
fn reach_mm(tree: &Tree, bed: &Bed) -> f64 {
    const LENGTHS: f64 = 3.0;
    const SHAFT_MN_MM2: f64 = 500.0;
    let widest = |branch: &Branch| {
        let line = &branch.centreline;
        (0..=20)
            .map(|k| line.radius(0.05 * f64::from(k) * line.length_mm()))
            .fold(0.0, f64::max)
    };
    let lumen = tree.branches().iter().map(widest).fold(0.0, f64::max);
    let bending = bed.wall.at(lumen).bending + SHAFT_MN_MM2;
    lumen + LENGTHS * (4.0 * bending / bed.across).powf(0.25)
}
