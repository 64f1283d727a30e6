//! Pinch: the wire is pulled out between two jaws that are pressed together.

use nalgebra::Vector3;

use super::AssayError;
use super::fixture::Plate;
use super::piece::{rod, stations};
use crate::contact::{Contact, Surface};
use crate::device::Wire;
use crate::scenario::bench::PinchTest;
use crate::solve::{Body, Newton, NewtonOptions};

/// Distance from the tip in mm behind which the jaws hold the wire.
const BEHIND_MM: f64 = 100.0;
/// Elastic give of each jaw under the clamp force, in mm.
const GIVE_MM: f64 = 0.005;
/// Elastic stretch of the wire in the jaws under the clamp force.
const STRETCH: f64 = 1e-4;
/// Edges in the jaws.
const EDGES: f64 = 40.0;
/// Steps of the pull, and the whole pull over the give of a jaw.
const STEPS: u32 = 40;
const PULL_OVER_GIVE: f64 = 4.0;

/// A wire pulled out.
#[derive(Debug, Clone, PartialEq)]
pub struct Pulled {
    /// Pull of the hand in mm, and force in mN.
    pub curve: Vec<[f64; 2]>,
    /// Force of each jaw on the wire in mN.
    pub clamp_mn: f64,
    /// Force in mN at which the wire slides.
    pub sliding_mn: f64,
}

impl Pulled {
    /// Sliding force over clamp force: what is often quoted.
    #[must_use]
    pub fn quoted_coefficient(&self) -> f64 {
        self.sliding_mn / self.clamp_mn
    }

    /// Sliding force over both normal forces: the clamp force acts on either side of the wire.
    #[must_use]
    pub fn true_coefficient(&self) -> f64 {
        self.sliding_mn / (2.0 * self.clamp_mn)
    }
}

/// Clamps a piece of the wire's shaft between two flat jaws and pulls at one end.
///
/// # Errors
/// [`AssayError`] where no equilibrium is found.
pub fn pull(wire: &Wire, test: &PinchTest) -> Result<Pulled, AssayError> {
    let from = BEHIND_MM.max(wire.bends_end_mm());
    let along = stations(from, from + test.jaw_mm, test.jaw_mm / EDGES);
    let nodes: Vec<_> = along.iter().map(|s| Vector3::x() * (from - s)).collect();
    let state = rod(wire, &along, &nodes, test.clamp_mn / STRETCH, Vector3::y());
    let edges = state.edges.len();
    let surface = Surface {
        radius: wire.radius_mm(),
        friction: wire.friction(),
        wall: (test.clamp_mn / (GIVE_MM * test.jaw_mm)).into(),
        spacing: test.jaw_mm / EDGES,
    };
    let jaw = |normal: Vector3<f64>| Plate {
        at: normal * (wire.radius_mm() - GIVE_MM),
        normal,
    };
    let (upper, lower) = (jaw(Vector3::y()), jaw(-Vector3::y()));
    let [above, below] =
        [&upper, &lower].map(|plate| Contact::new(plate, surface.clone(), &state, edges, false));
    let mut body = Body::new(state);
    body.others = vec![above, below];
    // The hand moves the last node along the wire and does not turn it.
    let end = along.len() - 1;
    body.fixed = vec![4 * end];
    body.fix_rotation(end - 1);
    body.begin();
    let mut newton = Newton::default();
    let options = NewtonOptions::with_tolerance(1e-8 * test.clamp_mn);
    let mut curve = Vec::new();
    let mut clamp = 0.0;
    for step in 0..=STEPS {
        body.begin();
        let mut at = body.rod.node(end);
        at.x = nodes[end].x - PULL_OVER_GIVE * GIVE_MM * f64::from(step) / f64::from(STEPS);
        body.rod.set_node(end, &at);
        body.rod.refresh();
        newton
            .equilibrate(&mut body, &options)
            .map_err(AssayError::solver("pinch"))?;
        clamp = body.others[0]
            .active_contacts()
            .iter()
            .map(|g| g.normal_force)
            .sum();
        body.settle();
        curve.push([-(at.x - nodes[end].x), -newton.gradient[4 * end]]);
    }
    let sliding_mn = curve.iter().map(|row| row[1]).fold(0.0, f64::max);
    Ok(Pulled {
        curve,
        clamp_mn: clamp,
        sliding_mn,
    })
}
