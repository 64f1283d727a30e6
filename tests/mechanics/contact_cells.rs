//! A ridge between contact points is found, and one that no points can see is refused.

use bendwise::contact::{Between, Contact, Surface};
use bendwise::rod::{Edge, Hinge, Rod};
use bendwise::solve::{Body, Newton, NewtonFailure, NewtonOptions};
use bendwise::vessel::{Lumen, WallPoint};
use nalgebra::{Matrix3, Vector3};

/// The space below a roof along y whose ridge stands up into it: the ridge is at height 0, and both
/// sides rise from there with the given slope.
struct Ridge {
    x: f64,
    slope: f64,
}

impl Lumen for Ridge {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let distance_mm = self.distance(p);
        let side = if p.x < self.x {
            self.slope
        } else {
            -self.slope
        };
        (distance_mm >= -margin_mm).then(|| WallPoint {
            distance_mm,
            gradient: Vector3::new(side, 0.0, 1.0),
            velocity: Vector3::zeros(),
            hessian: Matrix3::zeros(),
        })
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        p.z - self.slope * (p.x - self.x).abs()
    }
}

const RADIUS: f64 = 0.18;
const STIFFNESS: f64 = 300.0;
const EDGES: usize = 3;

/// A straight rod of three edges of 1 mm along x whose surface is pressed `depth` mm into the ridge.
fn rod(depth: f64) -> Rod {
    let nodes: Vec<_> = [0.0, 1.0, 2.0, 3.0, 4.0]
        .map(|x| Vector3::new(x, 0.0, depth - RADIUS))
        .to_vec();
    let edge = Edge {
        rest_length: 1.0,
        axial_stiffness: 5e3,
    };
    let hinges = vec![Hinge::uniform(1.0, 50.0, 40.0); 5];
    Rod::new(&nodes, vec![edge; 4], hinges, Vector3::y())
}

fn contact<'a>(lumen: &'a Ridge, rod: &Rod) -> Contact<'a> {
    let surface = Surface {
        radius: RADIUS,
        friction: 0.1,
        wall: STIFFNESS.into(),
        spacing: 0.25,
    };
    Contact::new(lumen, surface, rod, EDGES, false)
}

fn covered(contact: &Contact<'_>) -> [f64; EDGES] {
    std::array::from_fn(|edge| {
        let own = contact.points.iter().filter(|p| p.edge == edge);
        own.map(|p| p.weight).sum()
    })
}

/// The energy of a depth `D - s |x|` is `k D³/(3 s)`, wherever the ridge lies between the points.
#[test]
fn the_energy_of_a_ridge_does_not_depend_on_where_the_points_are() {
    let slope = 0.5;
    for depth in [0.01, 0.03, 0.1] {
        let rod = rod(depth);
        let exact = STIFFNESS * depth * depth * depth / (3.0 * slope);
        for k in 0..40 {
            let lumen = Ridge {
                x: 1.0 + 0.025 * f64::from(k),
                slope,
            };
            let mut contact = contact(&lumen, &rod);
            contact.choose_points(&rod.q);
            let off = contact.energy(&rod.q) / exact - 1.0;
            // A corner of the integrand costs the midpoint rule up to h²/12 of its jump in slope, here
            // 2 (h/W)² of the energy with W = 2 D/s; cells beside, twice as long, add half of that.
            // Cells are halved down to a rise over half of one of 0.0015 mm or a tenth of D, or to
            // 1/128 mm.
            let share = f64::max(0.1, 0.0015 / depth).max(slope / (256.0 * depth));
            let limit = 3.0 * share * share;
            assert!(
                off.abs() < limit,
                "depth {depth}, ridge at {}: {off}",
                lumen.x
            );
            assert_eq!(contact.uncover(&rod.q), Between::Seen);
            for length in covered(&contact) {
                approx::assert_relative_eq!(length, 1.0, max_relative = 1e-12);
            }
        }
    }
}

/// A search that did not begin there meets a ridge between its points: they are halved.
#[test]
fn a_ridge_that_was_not_there_is_uncovered() {
    let rod = rod(0.03);
    let lumen = Ridge { x: 1.5, slope: 0.8 };
    let mut contact = contact(&lumen, &rod);
    let before = contact.points.len();
    assert!(
        contact.energy(&rod.q) <= 0.0,
        "the points lie clear of the ridge"
    );
    assert_eq!(contact.uncover(&rod.q), Between::Halved);
    assert!(contact.points.len() > before);
    assert!(contact.energy(&rod.q) > 0.0);
    assert_eq!(contact.uncover(&rod.q), Between::Seen);
}

#[test]
fn friction_is_remembered_where_cells_are_halved_and_joined() {
    let rod = rod(0.03);
    let lumen = Ridge { x: 1.4, slope: 0.5 };
    let mut contact = contact(&lumen, &rod);
    contact.choose_points(&rod.q);
    let field = |x: f64| Vector3::new(1e-3 * x, -2e-3 * x, 0.0);
    let place =
        |edge: usize, fraction: f64| f64::from(u32::try_from(edge).expect("small")) + fraction;
    for p in &mut contact.points {
        p.wall.friction.displacement = field(place(p.edge, p.fraction));
    }
    let fine = contact.points.len();
    // The same shape, and one a little further along the ridge.
    for moved in [0.0, 0.02] {
        let mut q = rod.q.clone();
        for node in 0..rod.nodes() {
            q[4 * node] += moved;
        }
        contact.choose_points(&q);
        if moved <= 0.0 {
            assert_eq!(contact.points.len(), fine);
        }
        for p in contact.points.iter().filter(|p| p.weight < 0.03) {
            let expected = field(place(p.edge, p.fraction));
            let off = (p.wall.friction.displacement - expected).norm();
            // The nearest point may have been half a cell away.
            assert!(off <= 2.3e-3 * 0.06, "{off} at {}", p.fraction);
        }
    }
    // Clear of the ridge all cells are joined: four on an edge, eight on that of the tip.
    let mut q = rod.q.clone();
    for node in 0..rod.nodes() {
        q[4 * node + 2] -= 1.0;
    }
    contact.choose_points(&q);
    assert_eq!(contact.points.len(), 4 * (EDGES + 1));
}

/// A distance that changes three times as fast as a point goes: more than the smallest cells can see.
#[test]
fn a_state_that_hides_a_place_from_all_points_is_refused() {
    let lumen = Ridge { x: 1.5, slope: 3.2 };
    let rod = rod(0.03);
    let mut body = Body::new(rod);
    let contact = contact(&lumen, &body.rod);
    body = body.with_contact(contact);
    for node in 0..body.rod.nodes() {
        body.fix_node(node);
    }
    for edge in 0..body.rod.edges.len() {
        body.fix_rotation(edge);
    }
    let found = Newton::default().equilibrate(&mut body, &NewtonOptions::with_tolerance(1e-6));
    assert!(
        matches!(found, Err(NewtonFailure::Uncovered { .. })),
        "{found:?}"
    );
}
