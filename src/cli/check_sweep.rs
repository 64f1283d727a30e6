//! `bendwise check` of a sweep: what it will be, without running it.

use std::path::Path;

use super::failure::Failure;
use super::say;
use super::sweep::{Opened, setup_of};
use crate::report::sweep::{LOOKED_AT, Outlook, outlook};
use crate::trial::{BuiltVessel, Prepared, strategies};

/// Reads and validates a sweep, tries some of its points, and prints what it will be.
pub(super) fn check_sweep(path: &Path) -> Result<(), Failure> {
    let opened = Opened::read(path)?;
    let Opened { sweep, base, first } = &opened;
    let strategies = strategies(first.scenario());
    let setup = setup_of(&opened, &strategies, None)?;
    let tried = setup.points.min(LOOKED_AT);
    let at = |k: usize| match tried {
        0 | 1 => 0,
        _ => k * ((setup.points - 1) / (tried - 1)),
    };
    let mut vessel: Option<BuiltVessel> = None;
    let not_built: Vec<(usize, String)> = (0..tried)
        .map(at)
        .filter_map(|point| {
            let scenario = base.scenario_at(&setup.design.point(point), point);
            let built = scenario.and_then(|scenario| {
                // Points that differ in devices have their vessel in common.
                let built = match vessel.take().filter(|built| built.is(&scenario.vessel)) {
                    Some(built) => Ok(built),
                    None => BuiltVessel::new(&scenario.vessel),
                };
                built
                    .and_then(|built| Prepared::in_vessel(&scenario, vessel.insert(built)))
                    .map_err(|error| error.to_string())
            });
            built.err().map(|reason| (point, reason))
        })
        .collect();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    say(&outlook(&Outlook {
        spec: &sweep.spec,
        setup: &setup,
        scenario: first.scenario(),
        vessel_bytes: first.vessel_bytes(),
        threads,
        not_built: &not_built,
        needs_yes: setup.points > super::sweep::MANY_POINTS,
    }))
}
