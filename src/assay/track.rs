//! Track: the wire is pushed through a tube and pulled out again.

use super::AssayError;
use super::path::Path;
use super::torque::InTube;
use crate::device::Wire;
use crate::solve::{Assembly, CoreSet, Unresolved};

/// Movement between two readings in mm.
const READ_EVERY_MM: f64 = 1.0;
/// Feed in mm over which the tip's progress is judged.
const JUDGED_OVER_MM: f64 = 5.0;
/// Straight wire in mm that stays in the tube behind the shaped tip, so that the tip is not drawn
/// into the guide.
const LEFT_IN_MM: f64 = 5.0;
/// Share of the feed below which the tip's progress counts as none.
const LOCKED_SHARE: f64 = 0.1;

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Length fed into the tube in mm.
    pub fed_mm: f64,
    /// Push force at the hand in mN, negative when the hand pulls.
    pub push_mn: f64,
    /// Largest force on the wall within one millimetre in mN.
    pub wall_mn: f64,
    /// How far along the tube the tip lies in mm.
    pub tip_mm: f64,
    /// Largest bending strain over the core's limit.
    pub strain_ratio: f64,
}

/// How the feeding ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Way {
    /// The wire went the whole way.
    Through,
    /// From this fed length in mm on the tip no longer moved.
    Locked(f64),
    /// No equilibrium was found.
    Unresolved(Unresolved),
}

/// A wire pushed in and pulled out.
#[derive(Debug, Clone, PartialEq)]
pub struct Tracked {
    /// Readings on the way in.
    pub pushed: Vec<Row>,
    /// Readings on the way out.
    pub pulled: Vec<Row>,
    /// How the way in ended.
    pub way: Way,
    /// Where no equilibrium was found on the way out, which ends there.
    pub stuck_out: Option<Unresolved>,
    /// The set that the wire keeps when it is out again.
    pub set: CoreSet,
}

impl Tracked {
    /// Largest push force in mN.
    #[must_use]
    pub fn largest_push_mn(&self) -> f64 {
        self.pushed.iter().map(|r| r.push_mn).fold(0.0, f64::max)
    }

    /// Largest pull force in mN; 0 if the wire comes out by itself.
    #[must_use]
    pub fn largest_pull_mn(&self) -> f64 {
        self.pulled.iter().map(|r| -r.push_mn).fold(0.0, f64::max)
    }

    /// Largest force on the wall within one millimetre, both ways, in mN.
    #[must_use]
    pub fn largest_wall_mn(&self) -> f64 {
        let all = self.pushed.iter().chain(&self.pulled);
        all.map(|r| r.wall_mn).fold(0.0, f64::max)
    }

    /// Largest bending strain over the core's limit, both ways.
    #[must_use]
    pub fn largest_strain_ratio(&self) -> f64 {
        let all = self.pushed.iter().chain(&self.pulled);
        all.map(|r| r.strain_ratio).fold(0.0, f64::max)
    }
}

fn read(insertion: &Assembly<'_>, path: &Path) -> Row {
    Row {
        fed_mm: insertion.outside_mm(),
        push_mn: insertion.push_force(),
        wall_mn: insertion.contact().largest_force,
        tip_mm: path.progress_mm(&insertion.tip()),
        strain_ratio: insertion.strains().0,
    }
}

/// Feeds the wire until `to_mm` is in the tube or the tip no longer moves, with a reading for
/// each millimetre added to `rows`.
pub fn advance(insertion: &mut Assembly<'_>, path: &Path, to_mm: f64, rows: &mut Vec<Row>) -> Way {
    if rows.is_empty() {
        rows.push(read(insertion, path));
    }
    while insertion.outside_mm() < to_mm - 1e-9 {
        let part = READ_EVERY_MM.min(to_mm - insertion.outside_mm());
        if let Err(unresolved) = insertion.feed(part) {
            return Way::Unresolved(unresolved);
        }
        let row = read(insertion, path);
        rows.push(row);
        let judged = rows
            .iter()
            .rev()
            .find(|r| row.fed_mm - r.fed_mm >= JUDGED_OVER_MM - 1e-9);
        if let Some(then) = judged
            && row.tip_mm - then.tip_mm < LOCKED_SHARE * (row.fed_mm - then.fed_mm)
        {
            return Way::Locked(then.fed_mm);
        }
    }
    Way::Through
}

/// Pushes a wire that lies in the tube through to its end, unless it is locked, and pulls it out.
#[must_use]
pub fn go_on(begun: InTube<'_>, wire: &Wire, path: &Path) -> Tracked {
    let InTube {
        mut insertion,
        mut pushed,
        mut way,
        ..
    } = begun;
    if way == Way::Through {
        way = advance(&mut insertion, path, path.length_mm(), &mut pushed);
    }
    let left_mm = LEFT_IN_MM + wire.bends_end_mm();
    let (pulled, stuck_out) = pull_out(&mut insertion, path, left_mm);
    Tracked {
        pushed,
        pulled,
        way,
        stuck_out,
        set: insertion.set(),
    }
}

/// Pushes the wire through the tube and pulls it out again.
///
/// # Errors
/// [`AssayError`] where the wire finds no rest at the entry.
pub fn track(wire: &Wire, path: &Path) -> Result<Tracked, AssayError> {
    let insertion = path.enter(wire).map_err(|failure| AssayError::Tube {
        test: format!("track, {}", path.course.name()),
        failure,
    })?;
    let begun = InTube {
        insertion,
        pushed: Vec::new(),
        way: Way::Through,
        response: None,
    };
    Ok(go_on(begun, wire, path))
}

/// Pulls the wire out of the tube until `left_mm` of it are left in it, or no equilibrium is found, with
/// a reading for each millimetre.
pub fn pull_out(
    insertion: &mut Assembly<'_>,
    path: &Path,
    left_mm: f64,
) -> (Vec<Row>, Option<Unresolved>) {
    let mut rows = Vec::new();
    while insertion.outside_mm() > left_mm + 1e-9 {
        let part = READ_EVERY_MM.min(insertion.outside_mm() - left_mm);
        if let Err(unresolved) = insertion.feed(-part) {
            return (rows, Some(unresolved));
        }
        rows.push(read(insertion, path));
    }
    (rows, None)
}
