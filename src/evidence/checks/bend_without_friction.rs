//! A straight wire fed into a frictionless tube bend, against an exact solution.
//!
//! Reference values: computed independently of this project by two methods (nonlinear
//! programming on a segment model with Richardson extrapolation, and shooting with piecewise
//! elastica), agreeing to 1.1e-7 in the energy and 1.5e-6 in the push force, per unit bending
//! stiffness. Tube: straight for 5 mm from the clamp, a quarter circle of 10 mm radius, straight;
//! lumen 3 mm, wire 0.36 mm.

use crate::contact::WalledLumen;
use crate::evidence::scenes::{BendTube, guide_tip, list_wire, order};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::scenario::model::{PieceSpec, VesselSpec};
use crate::solve::{Assembly, Start, StepSettings};
use crate::vessel::{Lumen, Tree};

/// `d, E/B, P/B, force on the wall at the tip/B, tip angle in degrees, place of the inner contact
/// behind the bend's start, its force/B`; lengths in mm, per unit stiffness in mN mm².
#[rustfmt::skip]
pub const BEND_10: [[f64; 7]; 21] = [
    [6.0, 0.00017647, 0.00049461, 0.0010247, 3.0949, 0.0, 0.0],
    [7.0, 0.00097881, 0.00109119, 0.0021687, 7.6263, 0.0, 0.0],
    [8.0, 0.00232844, 0.00159601, 0.0030473, 12.2689, 0.0, 0.0],
    [9.0, 0.00415172, 0.00204321, 0.0037533, 17.0446, 0.0, 0.0],
    [10.0, 0.00640389, 0.00245733, 0.0043501, 21.9785, 0.0, 0.0],
    [11.0, 0.00906171, 0.00285734, 0.0048830, 27.0995, 0.0, 0.0],
    [12.0, 0.01211917, 0.00325907, 0.0053873, 32.4420, 0.0, 0.0],
    [13.0, 0.01580973, 0.00419616, 0.0070229, 39.5291, 4.4905, 0.0024901],
    [14.0, 0.02040958, 0.00495465, 0.0084671, 46.8556, 5.0196, 0.0045006],
    [15.0, 0.02563879, 0.00547103, 0.0095166, 54.0195, 5.5557, 0.0055950],
    [16.0, 0.03079111, 0.00466158, 0.0094760, 60.5322, 6.0350, 0.0066729],
    [17.0, 0.03496341, 0.00370028, 0.0090359, 65.8262, 6.3707, 0.0072725],
    [18.0, 0.03823567, 0.00286875, 0.0084665, 70.1940, 6.5831, 0.0075066],
    [19.0, 0.04075054, 0.00218519, 0.0078555, 73.8489, 6.6975, 0.0075150],
    [20.0, 0.04265157, 0.00163789, 0.0072531, 76.9489, 6.7387, 0.0073865],
    [21.0, 0.04406456, 0.00120527, 0.0066851, 79.6133, 6.7276, 0.0071776],
    [22.0, 0.04509285, 0.00086497, 0.0061628, 81.9317, 6.6809, 0.0069234],
    [23.0, 0.04581869, 0.00059740, 0.0056890, 83.9723, 6.6109, 0.0066456],
    [24.0, 0.04630654, 0.00038662, 0.0052621, 85.7865, 6.5265, 0.0063571],
    [25.0, 0.04660667, 0.00022013, 0.0048786, 87.4139, 6.4340, 0.0060657],
    [26.0, 0.04675830, 0.00008822, 0.0045342, 88.8851, 6.3377, 0.0057762],
];
/// Largest push force, per unit stiffness.
const PEAK: f64 = 0.0055281;
/// Largest force at the tip and at the inner wall among the rows, per unit stiffness.
const PEAK_TIP: f64 = 0.0095166;
const PEAK_INNER: f64 = 0.0075150;
/// `d` of the first contact, `sqrt(2 R c + c²)`; of the first contact with the inner wall; and
/// from which the tip lies flat on the outer wall and nothing pushes back.
const FIRST_CONTACT: f64 = 5.304_941;
const INNER_CONTACT: f64 = 12.20726;
const TANGENT: f64 = 26.8263;

/// Bending stiffness of the wire in mN mm².
const STIFFNESS: f64 = 50.0;
/// Foundation stiffness in mN/mm² that leaves the wall all but rigid for these forces.
const STIFF_WALL: f64 = 3e4;
const EDGE_MM: f64 = 0.25;
/// Diameter of the wire and of the lumen, and radius of the bend in mm.
const WIRE_MM: f64 = 0.36;
const LUMEN_MM: f64 = 3.0;
const BEND_MM: f64 = 10.0;

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

/// The tube and the wire of the table, or others of which it holds too: the solution depends on the play over the
/// radius of the bend alone, lengths go with the radius, energy over stiffness with its inverse, forces over
/// stiffness with the square of that.
#[derive(Clone, Copy)]
struct Size {
    /// Radius of the bend over that of the table.
    times: f64,
    /// Diameter of the wire in mm.
    wire_mm: f64,
}

/// That of the table, and tighter and wider bends with wires of other diameters.
const TABLED: Size = size(1.0, WIRE_MM);
const SIZES: [Size; 3] = [size(0.4, 0.26), size(1.0, 0.6), size(2.5, 0.9)];

const fn size(times: f64, wire_mm: f64) -> Size {
    Size { times, wire_mm }
}

impl Size {
    fn bend_mm(self) -> f64 {
        BEND_MM * self.times
    }

    fn lead_mm(self) -> f64 {
        5.0 * self.times
    }

    fn lumen_mm(self) -> f64 {
        self.wire_mm + (LUMEN_MM - WIRE_MM) * self.times
    }

    /// A wall that gives way by as much of the play: forces on it go with the inverse cube of the size.
    fn wall(self) -> f64 {
        STIFF_WALL / self.times.powi(4)
    }

    fn tube(self) -> BendTube {
        BendTube {
            lead: self.lead_mm(),
            bend: self.bend_mm(),
            angle: 90f64.to_radians(),
            radius: 0.5 * self.lumen_mm(),
        }
    }
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
