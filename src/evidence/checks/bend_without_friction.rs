//! A straight wire fed into a frictionless tube bend, against an exact solution.

mod exact;

pub use self::exact::BEND_10;
use self::exact::{
    BEND_MM, FIRST_CONTACT, INNER_CONTACT, LUMEN_MM, PEAK, PEAK_INNER, PEAK_TIP, SIZES, STIFF_WALL,
    Size, TABLED, TANGENT, WIRE_MM,
};
use crate::contact::WalledLumen;
use crate::evidence::scenes::{BendTube, guide_tip, list_wire, order};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::scenario::model::{PieceSpec, VesselSpec};
use crate::solve::{Assembly, Start, StepSettings};
use crate::vessel::{Lumen, Tree};

/// Bending stiffness of the wire in mN mm².
const STIFFNESS: f64 = 50.0;
const EDGE_MM: f64 = 0.25;

#[derive(Clone, Copy, Default)]
struct Row {
    d: f64,
    energy: f64,
    push: f64,
    tip: f64,
    angle: f64,
    inner_at: f64,
    inner: f64,
}

/// The crate's own vessel.
fn vessel() -> Result<Tree, Broken> {
    let spec = VesselSpec::single_tube(
        vec![
            PieceSpec::Straight { length_mm: 5.0 },
            PieceSpec::Arc {
                radius_mm: BEND_MM,
                angle_rad: 90f64.to_radians(),
                plane_rad: 0.0,
            },
            PieceSpec::Straight { length_mm: 20.0 },
        ],
        LUMEN_MM,
    );
    Ok(Tree::build(&spec)?)
}

/// The same tube without the run of curvature at its joints.
fn exact_tube() -> BendTube {
    TABLED.tube()
}

fn start(lumen: &dyn Lumen, stiffness: f64, edge: f64, wall: f64) -> Result<Assembly<'_>, Broken> {
    start_of(TABLED, lumen, stiffness, edge, wall)
}

fn start_of(
    size: Size,
    lumen: &dyn Lumen,
    stiffness: f64,
    edge: f64,
    wall: f64,
) -> Result<Assembly<'_>, Broken> {
    let settings = StepSettings {
        edge_mm: edge,
        drag: 0.0,
        feed_mm: 0.25 * size.times,
        tolerance: 1e-6,
        ..StepSettings::default()
    };
    let start = Start {
        outside_mm: size.lead_mm(),
        longest_mm: 40.0 * size.times,
        roll_rad: 0.0,
    };
    let wire = list_wire(stiffness, size.wire_mm, 0.0)?;
    Ok(Assembly::straight(
        &wire,
        WalledLumen::new(lumen, wall),
        guide_tip(),
        settings,
        start,
    )?)
}

/// What the table lists, of the present state; per unit stiffness.
fn read(insertion: &Assembly<'_>, stiffness: f64) -> Result<Row, Broken> {
    let d = insertion.outside_mm() - 5.0;
    let elastic = insertion.elastic();
    let body = insertion
        .wire_body()
        .ok_or_else(|| Broken("no wire".into()))?;
    let contact = body.contact.as_ref();
    let contact = contact.ok_or_else(|| Broken("no tube".into()))?;
    let mut row = Row {
        d,
        energy: (elastic.bend + elastic.stretch) / stiffness,
        push: insertion.push_force() / stiffness,
        ..Row::default()
    };
    for active in contact.active_contacts() {
        let point = &contact.points[active.point];
        let stations = insertion.stations();
        let ends = [stations[point.edge], stations[point.edge + 1]];
        let at = ends[0] + point.fraction * (ends[1] - ends[0]);
        let force = active.normal_force / stiffness;
        // The two contacts are more than 7 mm apart.
        if at < 3.0 {
            row.tip += force;
        } else {
            row.inner += force;
            row.inner_at += force * (d - at);
        }
    }
    row.inner_at /= row.inner.max(f64::MIN_POSITIVE);
    // Direction of the tip from its last two edges, each a chord of an arc.
    let rod = &body.rod;
    let angle = |i: usize| (-rod.tangent(i).y).atan2(-rod.tangent(i).x).to_degrees();
    row.angle = 1.5 * angle(0) - 0.5 * angle(1);
    Ok(row)
}

fn feed_through_bend(
    lumen: &dyn Lumen,
    stiffness: f64,
    edge: f64,
    wall: f64,
) -> Result<Vec<Row>, Broken> {
    let mut insertion = start(lumen, stiffness, edge, wall)?;
    let mut rows = Vec::new();
    for step in 1..=52 {
        insertion.feed(0.5)?;
        if step % 2 == 0 && step >= 12 {
            rows.push(read(&insertion, stiffness)?);
        }
    }
    Ok(rows)
}

/// Largest errors: energy relative to its value, the forces relative to their peaks, the tip's
/// angle in degrees and the place of the inner contact in mm.
#[derive(Debug, Default)]
struct Errors {
    energy: f64,
    push: f64,
    tip: f64,
    inner: f64,
    angle: f64,
    inner_at: f64,
}

fn errors(rows: &[Row]) -> Errors {
    let mut e = Errors::default();
    for (row, exact) in rows.iter().zip(&BEND_10) {
        let [_, energy, push, tip, angle, inner_at, inner] = *exact;
        e.energy = e.energy.max((row.energy - energy).abs() / energy);
        e.push = e.push.max((row.push - push).abs() / PEAK);
        e.tip = e.tip.max((row.tip - tip).abs() / PEAK_TIP);
        e.inner = e.inner.max((row.inner - inner).abs() / PEAK_INNER);
        e.angle = e.angle.max((row.angle - angle).abs());
        if inner > 0.0 {
            e.inner_at = e.inner_at.max((row.inner_at - inner_at).abs());
        }
    }
    e
}

/// Largest difference of energy (over its largest value) and push force (over its peak) between
/// two runs.
fn apart(a: &[Row], b: &[Row]) -> (f64, f64) {
    let largest = BEND_10[20][1];
    a.iter().zip(b).fold((0.0, 0.0), |(e, p), (a, b)| {
        let energy: f64 = (a.energy - b.energy).abs() / largest;
        let push: f64 = (a.push - b.push).abs() / PEAK;
        (energy.max(e), push.max(p))
    })
}

/// Feeds in steps of 0.05 mm from `from` to beyond `until` and returns the first `d` at which the
/// state is as asked for.
fn first_time(until: f64, asked: impl Fn(&Row) -> bool) -> Result<f64, Broken> {
    let tube = exact_tube();
    let mut insertion = start(&tube, STIFFNESS, EDGE_MM, STIFF_WALL)?;
    while insertion.outside_mm() - 5.0 < until + 2.0 {
        insertion.feed(0.05)?;
        let row = read(&insertion, STIFFNESS)?;
        if asked(&row) {
            return Ok(row.d);
        }
    }
    Ok(f64::INFINITY)
}

pub const CHECK: Check = Check {
    name: "bend-without-friction",
    question: "With what force is a wire pushed round a bend, and where does it press on the wall?",
    origin: Origin::Computed,
    source: "exact solution of the inextensible elastica in a tube, by nonlinear programming with Richardson \
             extrapolation and by shooting, which agree to 1.5e-6",
    scene: "A straight wire fed into a quarter circle of 10 mm radius, lumen 3 mm, no friction; edges of 0.25 mm; \
            the same in bends of 4 to 25 mm with wires of 0.26 to 0.9 mm",
    carries: &[Rests::Push, Rests::Wall, Rests::Tip, Rests::Outcome],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    let sizes: Vec<Size> = SIZES.into_iter().chain([TABLED]).collect();
    let over = |input, of: fn(&Size) -> f64| {
        Covered::over(input, &sizes.iter().map(of).collect::<Vec<f64>>())
    };
    let longest = SIZES.map(|size| (PLACES[2] + 5.0) * size.times);
    vec![
        // Fed from the beginning of the bend on.
        Covered::over(Input::Turn, &[0.0, 90.0]),
        Covered::over(Input::Friction, &[0.0]),
        Covered::over(Input::Stiffness, &[STIFFNESS, STIFFER]),
        over(Input::Device, |size| size.wire_mm),
        over(Input::Lumen, |size| size.lumen_mm()),
        Covered::over(Input::Clearance, &[0.5 * (LUMEN_MM - WIRE_MM) / BEND_MM]),
        // The tube is straight before and behind its bend.
        Covered::over(Input::Curvature, &[0.0, 1.0 / SIZES[0].bend_mm()]),
        Covered::over(Input::Length, &longest),
        over(Input::Wall, |size| size.wall()),
    ]
}

/// A wire ten times as stiff, in mN mm².
const STIFFER: f64 = 10.0 * STIFFNESS;

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    let e = errors(&feed_through_bend(
        &vessel()?,
        STIFFNESS,
        EDGE_MM,
        STIFF_WALL,
    )?);
    readings.share("energy", e.energy, 0.01);
    readings.share("push force, of its peak", e.push, 0.02);
    readings.share("force at the tip, of its peak", e.tip, 0.02);
    readings.share("force at the inner wall, of its peak", e.inner, 0.04);
    readings.error("angle of the tip", e.angle, "deg", 0.5);
    readings.error("place of the inner contact", e.inner_at, "mm", 0.5);
    other_sizes(readings)?;
    neither_wall_nor_wire_matters(readings)?;
    errors_fall(readings)?;
    contacts_begin_and_end(readings)
}

/// Rows of the table at which bends of other sizes are compared: on the way in, near the peak, beyond it.
const PLACES: [f64; 3] = [10.0, 15.0, 20.0];

fn other_sizes(readings: &mut Readings) -> Result<(), Broken> {
    for size in SIZES {
        let tube = size.tube();
        let wall = size.wall();
        let mut insertion = start_of(size, &tube, STIFFNESS, EDGE_MM * size.times, wall)?;
        let (mut energy_off, mut push_off): (f64, f64) = (0.0, 0.0);
        for row in BEND_10.iter().filter(|row| PLACES.contains(&row[0])) {
            let outside = (row[0] + 5.0) * size.times;
            insertion.feed(outside - insertion.outside_mm())?;
            let found = read(&insertion, STIFFNESS)?;
            energy_off = energy_off.max((found.energy * size.times / row[1] - 1.0).abs());
            push_off = push_off.max((found.push * size.times.powi(2) - row[2]).abs());
        }
        let what = format!(
            "bend of {} mm, lumen {:.2} mm, wire {} mm",
            size.bend_mm(),
            size.lumen_mm(),
            size.wire_mm
        );
        readings.share(format!("{what}: energy"), energy_off, 0.01);
        readings.share(
            format!("{what}: push force, of its peak"),
            push_off / PEAK,
            0.02,
        );
    }
    Ok(())
}

fn neither_wall_nor_wire_matters(readings: &mut Readings) -> Result<(), Broken> {
    let tube = exact_tube();
    let rows = feed_through_bend(&tube, STIFFNESS, EDGE_MM, STIFF_WALL)?;
    let stiffer_wall = feed_through_bend(&tube, STIFFNESS, EDGE_MM, 2.0 * STIFF_WALL)?;
    let (energy, push) = apart(&rows, &stiffer_wall);
    let mut changes = |what: &str, of: f64, limit: f64| {
        readings.bound(what, 100.0 * of, "%", 100.0 * limit);
    };
    changes("wall twice as stiff, change of energy", energy, 5e-4);
    changes("wall twice as stiff, change of push force", push, 2e-3);
    let stiffer_wire = feed_through_bend(&tube, STIFFER, EDGE_MM, STIFF_WALL)?;
    let (energy, push) = apart(&rows, &stiffer_wire);
    changes("wire ten times as stiff, change of energy/EI", energy, 2e-3);
    changes(
        "wire ten times as stiff, change of push force/EI",
        push,
        1e-2,
    );
    Ok(())
}

fn errors_fall(readings: &mut Readings) -> Result<(), Broken> {
    // From 0.25 mm down, each mesh holds the nodes of the coarser one.
    let tube = exact_tube();
    let mut found = Vec::new();
    for edge in [0.25, 0.125, 0.0625] {
        let rows = feed_through_bend(&tube, STIFFNESS, edge, STIFF_WALL)?;
        let e = errors(&rows);
        let squares: f64 = rows
            .iter()
            .zip(&BEND_10)
            .map(|(r, x)| ((r.energy - x[1]) / BEND_10[20][1]).powi(2))
            .sum();
        found.push([
            (squares / BEND_10.len() as f64).sqrt(),
            e.push,
            e.tip,
            e.inner,
        ]);
    }
    // The place of a contact hops from one point to the next: orders over both halvings.
    let order = |k: usize| 0.5 * order(&[found[0][k], found[2][k]]);
    readings.order("energy, edges from 0.25 to 0.0625 mm", order(0), 1.5);
    for (k, name) in [
        (1, "push force"),
        (2, "force at the tip"),
        (3, "force at the inner wall"),
    ] {
        readings.order(format!("{name}, largest error"), order(k), 0.8);
    }
    Ok(())
}

fn contacts_begin_and_end(readings: &mut Readings) -> Result<(), Broken> {
    let touch = first_time(FIRST_CONTACT, |row| row.tip > 0.0)?;
    let inner = first_time(INNER_CONTACT, |row| row.inner > 0.0)?;
    let flat = first_time(TANGENT, |row| row.d > 20.0 && row.angle > 89.95)?;
    readings.error("first contact", touch - FIRST_CONTACT, "mm", EDGE_MM);
    readings.error(
        "first contact with the inner wall",
        inner - INNER_CONTACT,
        "mm",
        EDGE_MM,
    );
    readings.error("tip flat on the wall", flat - TANGENT, "mm", EDGE_MM);
    let tube = exact_tube();
    let mut insertion = start(&tube, STIFFNESS, EDGE_MM, STIFF_WALL)?;
    insertion.feed(TANGENT + EDGE_MM)?;
    let mut push: f64 = 0.0;
    for _ in 0..12 {
        insertion.feed(0.25)?;
        push = push.max(read(&insertion, STIFFNESS)?.push.abs());
    }
    readings.share(
        "push force once the tip is flat, of its peak",
        push / PEAK,
        0.02,
    );
    Ok(())
}

/// Energy and push force per unit stiffness where so many mm lie beyond the bend's start (rising), with that edge
/// and a wall that many times as stiff as that of the check.
pub fn at_row(edge_mm: f64, stiffer: f64, places: &[f64]) -> Result<Vec<[f64; 2]>, Broken> {
    let tube = exact_tube();
    let mut insertion = start(&tube, STIFFNESS, edge_mm, stiffer * STIFF_WALL)?;
    let mut found = Vec::new();
    for place in places {
        insertion.feed(place + 5.0 - insertion.outside_mm())?;
        let row = read(&insertion, STIFFNESS)?;
        found.push([row.energy, row.push]);
    }
    Ok(found)
}
