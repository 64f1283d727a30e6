//! Carries out a test on one wire and reads the numbers from its curve.

use super::flexibility::{self, SideForce};
use super::path::{Course, Path};
use super::torque::{Response, Turn};
use super::track::{Tracked, Way};
use super::{
    Fault, Measured, Reading, Series, Test, fit, kink, pinch, straightening, three_point, tip_load,
    torque, track,
};
use crate::device::Wire;
use crate::scenario::bench::{AssaySpec, FitSpec};
use crate::scenario::model::{EndCondition, StiffnessSpec, WireSpec};
use crate::units::mn_to_gram_force;

/// Pull over push below which a wire counts as coming out by itself.
const BY_ITSELF: f64 = 0.01;
/// Angle between two points of a flexibility curve in rad.
const FLEXIBILITY_STEP_RAD: f64 = std::f64::consts::PI / 36.0;

/// A wire on the bench.
#[derive(Debug, Clone, Copy)]
pub(super) struct Subject<'a> {
    /// As described.
    pub spec: &'a WireSpec,
    /// As built.
    pub wire: &'a Wire,
    /// Settings of the tests.
    pub assay: &'a AssaySpec,
}

/// A number as part of a key: `12.5` becomes `12_5`.
fn keyed(value: f64) -> String {
    format!("{value}").replace('.', "_")
}

/// Tip load, with the tip straight and, if it is shaped, as it is.
pub(super) fn tip_load(on: &Subject<'_>) -> Result<Measured, Fault> {
    let test = &on.assay.tip_load;
    let catalogue = match &on.spec.stiffness {
        StiffnessSpec::TipLoad {
            tip_load_mn,
            end_condition,
            ..
        } => Some((*tip_load_mn, *end_condition)),
        StiffnessSpec::Grind { .. } | StiffnessSpec::List { .. } => None,
    };
    let friction = match catalogue {
        Some((_, EndCondition::FixedFree)) => 0.0,
        _ => test.plate_friction.unwrap_or(on.wire.friction()),
    };
    let drive = |wire: &Wire, travel_mm: f64| {
        tip_load::drive(wire, test.held_mm, travel_mm, friction, on.assay.edge_mm)
    };
    let mut measured = Measured::default();
    let straight = drive(&on.wire.with_bend_factor(0.0), test.travel_mm)?;
    measured
        .series
        .push(series("tip straight", &straight.curve));
    let peak = mn_to_gram_force(straight.peak_mn);
    measured.readings.push(Reading::new(
        "tip_load_straight_gf",
        "tip load, tip straight",
        "gf",
        peak,
    ));
    measured.readings.push(Reading::maybe(
        "tip_load_off_catalogue_percent",
        "tip load off the catalogue's, tip straight",
        "%",
        catalogue.map(|(mn, _)| 100.0 * (straight.peak_mn / mn - 1.0)),
        "no catalogue value",
    ));
    if on.wire.bends_end_mm() > 0.0 {
        let shaped = drive(on.wire, test.shaped_travel_mm)?;
        measured.series.push(series("as shaped", &shaped.curve));
        let load = mn_to_gram_force(shaped.peak_mn);
        measured.readings.push(Reading::new(
            "tip_load_shaped_gf",
            "tip load, as shaped",
            "gf",
            load,
        ));
        measured.readings.push(Reading::new(
            "tip_load_shaped_off_straight_percent",
            "tip load as shaped, off the straight tip's",
            "%",
            100.0 * (load / peak - 1.0),
        ));
    }
    Ok(measured)
}

/// Side forces at the angles asked for, and curves up to the largest of them.
pub(super) fn flexibility(on: &Subject<'_>) -> Result<Measured, Fault> {
    let test = &on.assay.flexibility;
    let largest = test.angles_rad.last().copied().unwrap_or(0.0);
    let mut angles: Vec<f64> = test.angles_rad.clone();
    let mut angle = FLEXIBILITY_STEP_RAD;
    while angle < largest {
        if angles.iter().all(|a| (a - angle).abs() > 1e-9) {
            angles.push(angle);
        }
        angle += FLEXIBILITY_STEP_RAD;
    }
    angles.sort_by(f64::total_cmp);
    let mut measured = Measured::default();
    for (side, name, key, why_not) in [
        (
            SideForce::SquareToTip,
            "square to the tip",
            "square",
            "out of reach: the tip snaps over",
        ),
        (
            SideForce::Fixed,
            "fixed direction",
            "fixed",
            "out of reach for a force of fixed direction",
        ),
    ] {
        for &held in &test.held_mm {
            let forces = flexibility::forces(on.wire, held, &angles, side, on.assay.edge_mm)?;
            let mut points = vec![vec![0.0, 0.0]];
            for (angle, force) in angles.iter().zip(&forces) {
                points.extend(force.map(|force| vec![angle.to_degrees(), force]));
            }
            measured.series.push(Series {
                condition: format!("held {held} mm, {name}"),
                points,
            });
            for wanted in &test.angles_rad {
                let at = angles.iter().position(|a| (a - wanted).abs() <= 1e-9);
                let degrees = (wanted.to_degrees() * 1e6).round() / 1e6;
                measured.readings.push(Reading::maybe(
                    format!(
                        "force_{key}_held_{}_at_{}_deg_mN",
                        keyed(held),
                        keyed(degrees)
                    ),
                    format!("side force {name}, held {held} mm, {degrees}°"),
                    "mN",
                    at.and_then(|at| forces[at]),
                    why_not,
                ));
            }
        }
    }
    Ok(measured)
}

/// Stiffness and apparent modulus at the stations.
pub(super) fn three_point(on: &Subject<'_>) -> Result<Measured, Fault> {
    let test = &on.assay.three_point;
    let mut measured = Measured::default();
    let mut points = Vec::new();
    for &station in &test.stations_mm {
        let pressed = three_point::press(on.wire, station, test.span_mm, test.deflection_mm, 1)?;
        let stiffness = pressed.stiffness / 1e3;
        let modulus = pressed.apparent_modulus(on.spec.diameter_mm) / 1e6;
        points.push(vec![station, stiffness, modulus]);
        let at = keyed(station);
        measured.readings.push(Reading::new(
            format!("flexural_stiffness_at_{at}_mm_N_mm2"),
            format!("flexural stiffness {station} mm from the tip"),
            "N mm²",
            stiffness,
        ));
        measured.readings.push(Reading::new(
            format!("apparent_modulus_at_{at}_mm_GPa"),
            format!("apparent modulus {station} mm from the tip"),
            "GPa",
            modulus,
        ));
    }
    measured.series.push(Series {
        condition: format!("span {} mm", test.span_mm),
        points,
    });
    Ok(measured)
}

/// Pull over clamp force, and half of it.
pub(super) fn pinch(on: &Subject<'_>) -> Result<Measured, Fault> {
    let pulled = pinch::pull(on.wire, &on.assay.pinch)?;
    let clamp = format!("clamp {:.0} gf", mn_to_gram_force(on.assay.pinch.clamp_mn));
    Ok(Measured {
        series: vec![series(&clamp, &pulled.curve)],
        readings: vec![
            Reading::new(
                "pull_force_mN",
                format!("sliding pull, {clamp}"),
                "mN",
                pulled.sliding_mn,
            ),
            Reading::new(
                "quoted_coefficient",
                "coefficient as often quoted: pull over clamp force",
                "",
                pulled.quoted_coefficient(),
            ),
            Reading::new(
                "true_coefficient",
                "true coefficient: pull over both normal forces",
                "",
                pulled.true_coefficient(),
            ),
        ],
        files: Vec::new(),
    })
}

/// Smallest loop at the stations.
pub(super) fn kink(on: &Subject<'_>) -> Result<Measured, Fault> {
    let mut measured = Measured::default();
    for &station in &on.assay.kink.stations_mm {
        let looped = kink::loop_down(on.wire, station)?;
        measured
            .series
            .push(series(&format!("{station} mm from the tip"), &looped.curve));
        measured.readings.push(Reading::new(
            format!("smallest_loop_radius_at_{}_mm_mm", keyed(station)),
            format!("smallest loop radius {station} mm from the tip"),
            "mm",
            looped.loop_radius_mm,
        ));
    }
    Ok(measured)
}

/// Force on the bend and its movement.
pub(super) fn straightening(on: &Subject<'_>) -> Result<Measured, Fault> {
    let test = &on.assay.straightening;
    let rows = straightening::straighten(on.wire, test)?;
    let largest =
        |value: fn(&straightening::Row) -> f64| rows.iter().map(value).fold(0.0, f64::max);
    let bend = format!(
        "bend of {} mm radius and {:.0}°",
        test.radius_mm,
        test.angle_rad.to_degrees()
    );
    Ok(Measured {
        readings: vec![
            Reading::new(
                "largest_outward_force_mN",
                format!("largest force on the {bend}"),
                "mN",
                largest(|row| row.force_mn),
            ),
            Reading::new(
                "largest_movement_mm",
                format!("largest movement of the {bend}"),
                "mm",
                largest(|row| row.moved_mm),
            ),
        ],
        series: vec![Series {
            condition: bend,
            points: rows
                .iter()
                .map(|row| vec![row.apex_mm, row.force_mn, row.moved_mm])
                .collect(),
        }],
        files: Vec::new(),
    })
}

/// Torque response and track in one tube, as far as each is wanted: the wire is fed once.
pub(super) fn tube(
    on: &Subject<'_>,
    course: Course,
    wanted: &[Test],
) -> Result<Vec<(Test, Measured)>, Fault> {
    let path = Path::build(course, &on.assay.paths)?;
    let mut out = Vec::new();
    let turned = torque::respond(
        on.wire,
        &path,
        &on.assay.torque,
        wanted.contains(&Test::Torque),
    )?;
    if wanted.contains(&Test::Torque) {
        out.push((Test::Torque, response(course, turned.response.as_ref())));
    }
    if wanted.contains(&Test::Track) && course != Course::Straight {
        let tracked = track::go_on(turned, on.wire, &path)?;
        out.push((Test::Track, tracked_through(course, &tracked)));
    }
    Ok(out)
}

fn response(course: Course, response: Option<&Response>) -> Measured {
    const LOCKED: &str = "the wire locks on the way in";
    let (name, key) = (course.name(), course.key());
    let number = |what: &str, label: &str, unit, value: fn(&Response) -> f64| {
        Reading::maybe(
            format!("{key}_{what}"),
            format!("{label}, {name}"),
            unit,
            response.map(value),
            LOCKED,
        )
    };
    let way = |turns: &[Turn]| {
        let row = |t: &Turn| {
            let [hand, tip] = [t.hand_rad, t.tip_rad].map(f64::to_degrees);
            vec![hand, tip, hand - tip, t.torque]
        };
        turns.iter().map(row).collect()
    };
    let mut measured = Measured::default();
    if let Some(r) = response {
        for (direction, turns) in [("forward", &r.there), ("back", &r.back)] {
            measured.series.push(Series {
                condition: format!("{name}, {direction}"),
                points: way(turns),
            });
        }
    }
    measured.readings = vec![
        number("lag_deg", "lag of the tip at the end", "°", |r| {
            r.lag_rad().to_degrees()
        }),
        number("whip_deg", "whip: largest jump of the tip", "°", |r| {
            r.whip_rad().to_degrees()
        }),
        number(
            "torque_mN_mm",
            "largest torque at the hand",
            "mN mm",
            Response::largest_torque,
        ),
        number(
            "loop_width_deg",
            "width of the hysteresis loop",
            "°",
            |r| r.loop_width_rad().to_degrees(),
        ),
        number(
            "lost_energy_mN_mm",
            "energy lost in the cycle",
            "mN mm",
            Response::lost_energy,
        ),
    ];
    measured
}

fn tracked_through(course: Course, tracked: &Tracked) -> Measured {
    let (name, key) = (course.name(), course.key());
    let number = |what: &str, label: &str, unit, value: f64| {
        Reading::new(
            format!("{key}_{what}"),
            format!("{label}, {name}"),
            unit,
            value,
        )
    };
    let pull = tracked.largest_pull_mn();
    let out = number("largest_pull_mN", "largest pull out", "mN", pull);
    let locks = match tracked.way {
        Way::Through => (None, "does not lock"),
        Way::Locked(at) => (Some(at), ""),
        Way::Unresolved(at) => (Some(at.outside_mm), ""),
    };
    let lock = Reading::maybe(
        format!("{key}_locks_at_mm"),
        format!("first fails to move, {name}"),
        "mm",
        locks.0,
        locks.1,
    );
    let way = |rows: &[track::Row]| {
        let row = |r: &track::Row| vec![r.fed_mm, r.push_mn, r.wall_mn, r.tip_mm, r.strain_ratio];
        rows.iter().map(row).collect()
    };
    Measured {
        series: vec![
            Series {
                condition: format!("{name}, in"),
                points: way(&tracked.pushed),
            },
            Series {
                condition: format!("{name}, out"),
                points: way(&tracked.pulled),
            },
        ],
        readings: vec![
            number(
                "largest_push_mN",
                "largest push in",
                "mN",
                tracked.largest_push_mn(),
            ),
            if pull > BY_ITSELF * tracked.largest_push_mn() {
                out
            } else {
                out.noted("comes out by itself")
            },
            number(
                "largest_wall_force_mN",
                "largest wall force on 1 mm",
                "mN",
                tracked.largest_wall_mn(),
            ),
            number(
                "largest_strain_over_limit",
                "largest core strain over its limit",
                "",
                tracked.largest_strain_ratio(),
            ),
            match tracked.way {
                Way::Unresolved(_) => lock.noted("no equilibrium found"),
                Way::Through | Way::Locked(_) => lock,
            },
        ],
        files: Vec::new(),
    }
}

/// A stiffness profile from a measured curve.
pub(super) fn fitted(
    on: &Subject<'_>,
    spec: &FitSpec,
    curve: &fit::Curve,
) -> Result<Measured, Fault> {
    let fitted = fit::fit(on.spec, spec, curve, on.assay)?;
    let mut measured = Measured::default();
    let name = &spec.name;
    let key: String = name
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '_'
            }
        })
        .collect();
    for knot in &fitted.knots {
        let in_n = |value: f64| value / 1e3;
        measured.readings.push(
            Reading::new(
                format!("{key}_stiffness_at_{}_mm_N_mm2", keyed(knot.station_mm)),
                format!("{name}: stiffness {} mm from the tip", knot.station_mm),
                "N mm²",
                in_n(knot.stiffness),
            )
            .noted(format!(
                "95 %: {:.4} to {:.4}",
                in_n(knot.low),
                in_n(knot.high)
            )),
        );
    }
    measured.readings.push(Reading::new(
        format!("{key}_scatter_percent"),
        format!("{name}: scatter of the readings"),
        "%",
        100.0 * fitted.relative_scatter,
    ));
    let row = |k: &fit::Knot| vec![k.station_mm, k.stiffness / 1e3, k.low / 1e3, k.high / 1e3];
    measured.series.push(Series {
        condition: name.clone(),
        points: fitted.knots.iter().map(row).collect(),
    });
    let file = format!("wires/{}.toml", key.replace('_', "-"));
    measured.files.push((file, fit::as_toml(&fitted, spec)));
    Ok(measured)
}

fn series(condition: &str, curve: &[[f64; 2]]) -> Series {
    Series {
        condition: condition.to_owned(),
        points: curve.iter().map(|row| row.to_vec()).collect(),
    }
}
