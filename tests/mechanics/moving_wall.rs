//! Walls that move and walls with a law of their own, added from outside: a straight tube that slides
//! along its axis, a floor that rises, and a foundation that stiffens.

use bendwise::contact::{Response, Wall, WallLaw};
use bendwise::evidence::scenes::Floor;
use bendwise::evidence::scenes::{Cord, Pulled};
use bendwise::solve::{Banded, Update};
use bendwise::vessel::{Lumen, WallPoint};
use nalgebra::{Matrix3, Vector3};

const NODES: usize = 21;
const EDGE_MM: f64 = 0.5;
const LOAD_MN: f64 = 1.0;
const FRICTION: f64 = 0.2;

/// A straight tube of 1 mm radius about the x axis that moves along it.
struct SlidingTube {
    speed: f64,
}

impl Lumen for SlidingTube {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let out = Vector3::new(0.0, p.y, p.z);
        let from_axis = out.norm().max(1e-9);
        let normal = out / from_axis;
        let across = Matrix3::from_diagonal(&Vector3::new(0.0, 1.0, 1.0));
        let distance_mm = from_axis - 1.0;
        (distance_mm >= -margin_mm).then(|| WallPoint {
            distance_mm,
            gradient: normal,
            velocity: Vector3::x() * self.speed,
            hessian: (across - normal * normal.transpose()) / from_axis,
        })
    }
    fn top_speed_mm_per_s(&self) -> f64 {
        self.speed.abs()
    }
    fn distance(&self, p: &Vector3<f64>) -> f64 {
        p.yz().norm() - 1.0
    }
}

/// The half space above a plane that rises from `z = -0.1`.
struct RisingFloor {
    speed: f64,
}

impl Lumen for RisingFloor {
    fn near_wall(&self, p: &Vector3<f64>, time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let distance_mm = self.speed * time_s - 0.1 - p.z;
        (distance_mm >= -margin_mm).then(|| WallPoint {
            distance_mm,
            gradient: -Vector3::z(),
            velocity: Vector3::z() * self.speed,
            hessian: Matrix3::zeros(),
        })
    }
    fn top_speed_mm_per_s(&self) -> f64 {
        self.speed.abs()
    }
    fn distance(&self, p: &Vector3<f64>) -> f64 {
        -0.1 - p.z
    }
}

/// A foundation that stiffens: `F = k δ + b δ²`.
#[derive(Debug)]
struct Stiffening {
    k: f64,
    b: f64,
}

impl WallLaw for Stiffening {
    fn respond(&self, depth: f64) -> Response {
        let b = if depth > 0.0 { self.b } else { 0.0 };
        Response::new(
            depth,
            (0.5 * self.k + b * depth / 3.0) * depth * depth,
            (self.k + b * depth) * depth,
            self.k + 2.0 * b * depth,
        )
    }
}

fn cord(friction: f64) -> Cord {
    Cord {
        radius: 0.18,
        bending: 50.0,
        axial: 1e8,
        friction,
        wall: 300.0,
        tolerance: 1e-7,
    }
}

/// A wire along the x axis at the height `z`, drawn down at every node.
fn pressed<'a>(lumen: &'a dyn Lumen, friction: f64, z: f64) -> Pulled<'a> {
    let node = |i: usize| Vector3::new(-EDGE_MM * i as f64, 0.0, z);
    let nodes: Vec<_> = (0..NODES).map(node).collect();
    let mut wire = Pulled::new(&cord(friction), lumen, &nodes, 0, 1.0);
    for i in 0..NODES {
        let share = if i % (NODES - 1) == 0 { 0.5 } else { 1.0 };
        wire.load(i, 2, -share * LOAD_MN);
    }
    wire
}

fn total_load() -> f64 {
    LOAD_MN * (NODES - 1) as f64
}

/// A step of `seconds` in which the hand holds still.
fn wait(wire: &mut Pulled<'_>, seconds: f64) {
    wire.body.begin();
    wire.body.pass(seconds, 0.0);
    let found = wire.newton.equilibrate(&mut wire.body, &wire.options);
    wire.iterations.push(found.expect("equilibrium").iterations);
    wire.lost += wire.body.settle().sliding;
}

/// The wall takes hold of the wire elastically first and slides along it then; a hand that holds the
/// wire feels `mu N`, whatever the speed, and what is lost is that force times the way that was slid.
#[test]
fn a_tube_that_slides_along_its_axis_drags_a_held_wire_with_the_coulomb_force() {
    for speed in [2.0, -0.5] {
        let tube = SlidingTube { speed };
        let mut wire = pressed(&tube, FRICTION, -0.82);
        wire.pull(0.0).expect("equilibrium");
        assert!(wire.force().abs() < 1e-6, "at rest {}", wire.force());
        let way = 1e-4;
        wait(&mut wire, way / speed.abs());
        let length = EDGE_MM * (NODES - 1) as f64;
        let sticking = 300.0 * length * way * speed.signum();
        approx::assert_relative_eq!(-wire.force(), sticking, max_relative = 1e-3);
        let limit = FRICTION * total_load();
        for _ in 0..5 {
            wait(&mut wire, 0.05 / speed.abs());
        }
        approx::assert_relative_eq!(-wire.force(), limit * speed.signum(), max_relative = 1e-6);
        let slid = 5.0 * 0.05 + way - limit / (300.0 * length);
        approx::assert_relative_eq!(wire.lost, limit * slid, max_relative = 1e-3);
    }
}

/// A wire that nothing holds goes where the wall goes, without sliding.
#[test]
fn a_tube_that_slides_along_its_axis_carries_a_free_wire() {
    let tube = SlidingTube { speed: 3.0 };
    let mut wire = pressed(&tube, FRICTION, -0.82);
    wire.pull(0.0).expect("equilibrium");
    wire.body.fixed.retain(|&unknown| unknown != 0);
    let before = wire.body.rod.node(7).x;
    for _ in 0..10 {
        wait(&mut wire, 0.1);
    }
    let moved = wire.body.rod.node(7).x - before;
    approx::assert_relative_eq!(moved, 3.0, max_relative = 1e-6);
    assert!(wire.lost < 1e-9, "lost {}", wire.lost);
}

/// A point that is clear of the wall is found when the wall comes to it.
#[test]
fn a_floor_that_rises_lifts_a_wire_that_lay_clear_of_it() {
    let floor = RisingFloor { speed: 0.5 };
    let mut wire = pressed(&floor, FRICTION, 0.3);
    wire.body.loads.clear();
    for _ in 0..20 {
        wait(&mut wire, 0.1);
        let lowest = (0..NODES).map(|i| wire.body.rod.node(i).z);
        let lowest = lowest.fold(f64::INFINITY, f64::min);
        let at = wire
            .body
            .contact
            .as_ref()
            .map_or(0, |c| c.active_contacts().len());
        assert!(at == 0 || lowest > 0.3 - 1e-9);
    }
    // The floor has gone 1 mm and pushes nothing but the wire's weightless length.
    approx::assert_relative_eq!(wire.body.rod.node(10).z, 0.9 + 0.18, epsilon = 1e-3);
}

/// `k δ + b δ²` is the load per mm.
#[test]
fn a_stiffening_wall_yields_as_its_law_says() {
    let law = Stiffening { k: 100.0, b: 2e4 };
    let per_mm = LOAD_MN / EDGE_MM;
    let depth = ((law.k * law.k + 4.0 * law.b * per_mm).sqrt() - law.k) / (2.0 * law.b);
    let mut wire = pressed(&Floor, 0.0, 0.18);
    if let Some(contact) = &mut wire.body.contact {
        contact.surface.wall = Wall::new(law);
    }
    wire.pull(0.0).expect("equilibrium");
    let contact = wire.body.contact.as_ref().expect("a floor");
    // One on an edge, two on each of the front millimetre.
    assert_eq!(contact.active_contacts().len(), NODES - 1 + 2);
    for active in contact.active_contacts() {
        approx::assert_relative_eq!(active.depth, depth, max_relative = 1e-6);
    }
    assert!(wire.iterations[0] < 12, "{:?}", wire.iterations);
}

/// Force and stiffness of a wire on such a wall against differences of the potential.
#[test]
fn the_derivatives_on_a_stiffening_wall_are_those_of_its_energy() {
    let mut wire = pressed(&Floor, 0.0, 0.17);
    if let Some(contact) = &mut wire.body.contact {
        contact.surface.wall = Wall::new(Stiffening { k: 100.0, b: 2e4 });
    }
    let body = &mut wire.body;
    body.update = Update::Straight;
    body.begin();
    let n = body.rod.q.len();
    let wave = |k: usize| 1e-3 * (0.7 * k as f64).sin();
    let q: Vec<f64> = body
        .rod
        .q
        .iter()
        .enumerate()
        .map(|(k, q)| q + wave(k))
        .collect();
    body.move_to(&q);
    let (mut gradient, mut hessian) = (Vec::new(), Banded::default());
    body.assemble(&mut gradient, &mut hessian);
    let (mut ahead, mut behind) = (Vec::new(), Vec::new());
    let mut sink = Banded::default();
    for k in [2, 4 * 9 + 2, 4 * 10 + 2, 4 * (NODES - 1) + 2] {
        let h = 1e-6;
        let mut potential_at = |shift: f64, gradient: &mut Vec<f64>| {
            let mut moved = q.clone();
            moved[k] += shift;
            body.move_to(&moved);
            body.assemble(gradient, &mut sink);
            body.present().0
        };
        let up = potential_at(h, &mut ahead);
        let down = potential_at(-h, &mut behind);
        let slope = (up - down) / (2.0 * h);
        approx::assert_relative_eq!(slope, gradient[k], epsilon = 1e-3, max_relative = 1e-5);
        for i in k.saturating_sub(4)..n.min(k + 5) {
            let bend = (ahead[i] - behind[i]) / (2.0 * h);
            approx::assert_relative_eq!(
                bend,
                hessian.get(i, k),
                epsilon = 1.0,
                max_relative = 1e-4
            );
        }
    }
}
