//! A soft wire that is drawn round a bend against a dead load.

use nalgebra::Vector3;

use crate::contact::WallSpec;
use crate::evidence::Broken;
use crate::evidence::scenes::{Cord, Pulled};
use crate::vessel::Lumen;

/// Radius of the tube's bend and of its lumen in mm.
pub const BEND_MM: f64 = 10.0;
pub const LUMEN_MM: f64 = 0.6;
/// Dead load on the trailing end in mN.
pub const DEAD_LOAD: f64 = 10.0;

/// Distance of the cord's axis from the centre of the bend in mm, the cord lying on the inner wall.
const RHO_MM: f64 = BEND_MM - LUMEN_MM + 0.1;
/// Length of the cord's edges in mm.
pub const EDGE_MM: f64 = 0.2;

/// A cord so soft that its bending stiffness hardly counts; see [`may_be_off`].
pub fn cord(friction: f64) -> Cord {
    Cord {
        radius: 0.1,
        bending: 0.05,
        axial: 1e4,
        friction,
        wall: WallSpec::DEFAULT_STIFFNESS_MN_PER_MM2,
        tolerance: 1e-6,
    }
}

/// Draws the cord through a lumen until the force no longer changes; returns the wire, and by which
/// share of the force its last step has changed it.
pub fn draw<'a>(
    cord: &Cord,
    lumen: &'a dyn Lumen,
    nodes: &[Vector3<f64>],
    lead: usize,
    sign: f64,
) -> Result<(Pulled<'a>, f64), Broken> {
    let mut wire = Pulled::new(cord, lumen, nodes, lead, sign);
    wire.load(nodes.len() - 1, 0, -DEAD_LOAD);
    wire.pull(0.0)?;
    let mut drift = f64::INFINITY;
    for _ in 0..60 {
        let before = wire.force();
        wire.pull(0.05)?;
        drift = (wire.force() - before).abs() / wire.force();
        if drift < 1e-6 {
            break;
        }
    }
    Ok((wire, drift))
}

/// Nodes along a planar bend at the inner wall, leading end first.
pub fn planar(angle: f64, edge: f64) -> Vec<Vector3<f64>> {
    let (lead, tail) = (4.0, 8.0);
    let length = tail + RHO_MM * angle + lead;
    let centre = Vector3::new(tail, BEND_MM, 0.0);
    let (sin, cos) = angle.sin_cos();
    stations(length, edge)
        .into_iter()
        .rev()
        .map(|s| {
            if s < tail {
                return Vector3::new(s, BEND_MM - RHO_MM, 0.0);
            }
            let turned = ((s - tail) / RHO_MM).min(angle);
            let beyond = s - tail - RHO_MM * turned;
            centre
                + Vector3::new(turned.sin(), -turned.cos(), 0.0) * RHO_MM
                + Vector3::new(cos, sin, 0.0) * beyond
        })
        .collect()
}

/// Equally spaced stations from 0 to `length` mm, about `edge` mm apart.
pub fn stations(length: f64, edge: f64) -> Vec<f64> {
    let count = (length / edge).round().max(1.0);
    let mut stations = Vec::new();
    let mut k = 0.0;
    while k <= count {
        stations.push(length * k / count);
        k += 1.0;
    }
    stations
}

/// By which share the force ratio of a cord may be off `exp(mu phi)`, to first order in each of what
/// the capstan law leaves out (`T1` is the dead load, `T2` the force of the hand):
///
/// - The cord is a polygon that turns by `d = h / rho` at each node. The balance of forces there is
///   `T2 / T1 = (1 + mu tan(d/2)) / (1 - mu tan(d/2))`, so that the logarithm of the ratio is larger
///   by `mu phi (1 + mu²) d² / 12`.
/// - While a node passes an end of the bend, the path shortens and lengthens by up to `h d² / 24`
///   within half an edge, which changes the force by up to `d² / 12` of it. A test below asks for the
///   order of both.
/// - The wall gives way by `T / (k rho)`. Integrating the slope of the cord on it along the bend gives
///   `(T2 - T1) / (2 k rho²)`.
/// - The bending stiffness takes `B / (2 rho²)` off the tension at both ends, and so
///   `B (1 - T1 / T2) / (2 T1 rho²)` off the ratio.
pub fn may_be_off(cord: &Cord, angle: f64) -> f64 {
    let mu_phi = cord.friction * angle;
    let turn = EDGE_MM / RHO_MM;
    let mesh = turn.powi(2) / 12.0 * (1.0 + mu_phi * (1.0 + cord.friction.powi(2)));
    let grown = mu_phi.exp() - 1.0;
    let wall = DEAD_LOAD * grown / (2.0 * cord.wall * RHO_MM.powi(2));
    let lost = grown / (grown + 1.0);
    let bending = cord.bending * lost / (2.0 * DEAD_LOAD * RHO_MM.powi(2));
    mesh + wall + bending
}
