//! Tests in tubes: torque response and track.

use super::super::path::{Path, TubeShape};
use super::super::torque::{self, TorqueResponse, Turn};
use super::super::track::{self, Tracked, Way};
use super::{AssayError, Measured, Reading, Series, Subject, Test};

/// Pull over push below which a wire counts as coming out by itself.
const BY_ITSELF: f64 = 0.01;

/// Torque response and track in one tube, as far as each is wanted: the wire is fed once.
pub(in crate::assay) fn tube(
    on: &Subject<'_>,
    course: TubeShape,
    wanted: &[Test],
) -> Result<Vec<(Test, Measured)>, AssayError> {
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
    if wanted.contains(&Test::Track) && course != TubeShape::Straight {
        let tracked = track::go_on(turned, on.wire, &path);
        out.push((Test::Track, tracked_through(course, &tracked)));
    }
    Ok(out)
}

fn response(course: TubeShape, response: Option<&TorqueResponse>) -> Measured {
    const LOCKED: &str = "the wire locks on the way in";
    let (name, key) = (course.name(), course.key());
    let number = |what: &str, label: &str, unit, value: fn(&TorqueResponse) -> f64| {
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
            TorqueResponse::largest_torque,
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
            TorqueResponse::lost_energy,
        ),
    ];
    measured
}

fn tracked_through(course: TubeShape, tracked: &Tracked) -> Measured {
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
            if tracked.stuck_out.is_some() {
                out.noted("no equilibrium found on the way out")
            } else if pull > BY_ITSELF * tracked.largest_push_mn() {
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
            number(
                "set_deg",
                "set kept by the wire",
                "deg",
                tracked.set.angle_rad.to_degrees(),
            ),
            match tracked.way {
                Way::Unresolved(_) => lock.noted("no equilibrium found"),
                Way::Through | Way::Locked(_) => lock,
            },
        ],
        ..Measured::default()
    }
}
