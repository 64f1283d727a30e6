//! A scenario to start from, made of a bare file of anatomy: everything that had to be chosen stands
//! in it with its reason, and what was guessed is called a guess.

use std::fmt::Write as _;

use crate::anatomy::tree::{ImportSettings, ImportedBranch, written_out};
use crate::anatomy::{Frame, Imported, Unit};
use crate::scenario::model::WIRE_DIAMETER_MM;
use crate::shown::without_controls;

/// The lumen on the way to a target is at least this many times as wide.
const ROOM: f64 = 1.3;
/// How far beyond its mouth a target counts as reached, and how far the wire is then fed on, in mm;
/// in a short branch the second pair.
const DEEP_MM: (f64, f64) = (5.0, 5.0);
const SHALLOW_MM: (f64, f64) = (1.0, 2.0);
/// An inlet this many times as wide as the vessel behind it belongs to another vessel.
const OTHER_VESSEL: f64 = 2.5;
/// Wire fed beyond the way to the target, in mm.
const SPARE_MM: f64 = 40.0;

/// A branch that could be the target.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetCandidate {
    /// Its number.
    branch: usize,
    /// Beyond the mouth, and hold, where the branch is short for the usual ones.
    short: Option<(f64, f64)>,
    /// Way from the inlet to its end in mm.
    way_mm: f64,
    /// Narrowest diameter on the way in mm.
    narrowest_mm: f64,
}

/// What was said beside the file.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Said {
    /// The unit, on the command line.
    pub units: Option<Unit>,
    /// The frame, on the command line.
    pub frame: Option<Frame>,
}

/// Radius in mm at which lines that begin in another, much wider vessel should be cut off, if they
/// do: a little more than the widest place behind the one at which the radius has come down.
#[must_use]
pub fn cut_radius_mm(imported: &Imported) -> Option<f64> {
    let radii = &imported.branches.first()?.radii;
    let widest = (0..radii.len()).max_by(|a, b| radii[*a].total_cmp(&radii[*b]))?;
    let mut behind: Vec<f64> = radii[widest..].to_vec();
    let children = imported.branches.iter().filter(|b| b.parent == Some(0));
    behind.extend(children.flat_map(|b| &b.radii));
    behind.sort_by(f64::total_cmp);
    let usual = behind[behind.len() / 2];
    (radii[widest] > OTHER_VESSEL * usual).then(|| (1.25 * usual * 100.0).round() / 100.0)
}

/// Where a vessel without forks is divided, so that there is a target, in mm from its inlet.
#[must_use]
pub fn divide_mm(imported: &Imported) -> Option<f64> {
    let [only] = imported.branches.as_slice() else {
        return None;
    };
    Some((0.3 * length(only) * 10.0).round() / 10.0)
}

fn length(branch: &ImportedBranch) -> f64 {
    let pairs = branch.points.windows(2);
    pairs.map(|p| (p[1] - p[0]).norm()).sum()
}

/// The branches that could be the target, the best first: side branches with room for a wire before
/// those straight on, wide ones before narrow ones, short ones last.
#[must_use]
pub fn candidates(imported: &Imported) -> Vec<TargetCandidate> {
    let all = &imported.branches;
    let mut way: Vec<(f64, f64)> = Vec::with_capacity(all.len());
    let mut found: Vec<((bool, bool), TargetCandidate)> = Vec::new();
    for (number, branch) in all.iter().enumerate() {
        let (before, narrow) = branch.parent.map_or((0.0, f64::INFINITY), |p| way[p]);
        let own = length(branch);
        let least = branch.radii.iter().copied().fold(f64::INFINITY, f64::min);
        way.push((before + own, narrow.min(2.0 * least)));
        let Some(parent) = branch.parent else {
            continue;
        };
        let (way_mm, narrowest_mm) = way[number];
        if narrowest_mm < ROOM * WIRE_DIAMETER_MM {
            continue;
        }
        let mouth = 1.5 * all[parent].radii[all[parent].radii.len() - 1];
        let width = 2.0 * branch.radii[0];
        let usual = mouth + DEEP_MM.0 + (2.0 * width).max(DEEP_MM.1) + DEEP_MM.0;
        let short = (own < usual).then_some(SHALLOW_MM);
        let is_side = branch.by_order.split('.').skip(1).any(|part| part != "1");
        found.push((
            (short.is_some(), !is_side),
            TargetCandidate {
                branch: number,
                short,
                way_mm,
                narrowest_mm,
            },
        ));
    }
    found.sort_by(|a, b| {
        let wide = b.1.narrowest_mm.total_cmp(&a.1.narrowest_mm);
        a.0.cmp(&b.0).then(wide)
    });
    found.into_iter().map(|f| f.1).collect()
}

/// What was guessed, and what speaks against a choice, in words.
#[must_use]
pub fn guesses(imported: &Imported, settings: &ImportSettings, said: &Said) -> Vec<String> {
    let divided_mm = settings.divide_mm;
    let mut out = Vec::new();
    if said.units.is_none() {
        let (radius, extent) = size(imported);
        out.push(format!(
            "units are a guess: in {} the typical radius is {radius:.2} mm and the extent {extent:.0} \
             mm; say --units mm, cm or m",
            imported.unit.sign()
        ));
    }
    if said.frame.is_none() && guessed_frame(imported) {
        out.push(format!(
            "the frame is a guess: {}, as in most medical images; only views depend on it; say \
             --frame",
            imported.frame.name()
        ));
    }
    out.extend(imported.changes.inlet.doubt.clone());
    if let Some(at) = divided_mm {
        out.push(format!(
            "the file holds one vessel and no branch: it was divided {at} mm from the inlet, and the part \
             beyond is called {}, so that there is a target; a trial asks whether the wire gets there, not \
             whether it finds a branch; say divide_at_mm",
            imported.branches.last().map_or("", |b| b.name.as_str())
        ));
    }
    out
}

fn guessed_frame(imported: &Imported) -> bool {
    imported
        .warnings
        .iter()
        .any(|w| w.contains("which way its axes point is not stated"))
}

/// Typical radius and extent of the tree in mm.
fn size(imported: &Imported) -> (f64, f64) {
    let mut radii: Vec<f64> = imported
        .branches
        .iter()
        .flat_map(|b| b.radii.clone())
        .collect();
    radii.sort_by(f64::total_cmp);
    let points = imported.branches.iter().flat_map(|b| &b.points);
    let first = imported.branches[0].points[0];
    let (low, high) = points.fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)));
    (radii[radii.len() / 2], (high - low).max())
}

/// The text of the scenario; `file` is the file's path as it is to stand in it.
#[must_use]
pub fn starter(
    file: &str,
    imported: &Imported,
    settings: &ImportSettings,
    said: &Said,
    candidate: &TargetCandidate,
) -> String {
    let stem = file.rsplit(['/', '\\']).next().unwrap_or(file);
    let stem = stem.rsplit_once('.').map_or(stem, |s| s.0);
    let name: String = stem
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    let mut text = String::from(
        "# A scenario to start from. A value marked GUESS was chosen by the program: put the right one\n\
         # there, or let it stand, and delete the mark.\n",
    );
    text += "# What was changed to make a scene of the file:\n";
    for (what, how) in imported.changes.lines() {
        let how = without_controls(&how);
        let _ = writeln!(text, "#   {what}: {how}");
    }
    let name = name.trim_matches('-');
    let _ = write!(
        text,
        "\nname = {}\norigin = {}\ndescription = \"A vessel from a file.\"\n\n[study]\ntrials = 16\n\n",
        quoted(if name.is_empty() { "vessel" } else { name }),
        quoted(&format!("the file {stem}; name its source here")),
    );
    text += &vessel(file, imported, settings, said);
    text + &rest(imported, settings, candidate)
}

fn vessel(file: &str, imported: &Imported, settings: &ImportSettings, said: &Said) -> String {
    let changes = &imported.changes;
    let (radius, extent) = size(imported);
    let mut text = format!("[vessel]\nfile = {}\n", quoted(file));
    let why = if said.units.is_some() {
        "as said on the command line".to_owned()
    } else {
        format!(
            "GUESS: the typical radius is then {radius:.2} mm, the extent {extent:.0} mm; confirm it"
        )
    };
    let _ = writeln!(text, "units = \"{}\" # {why}", imported.unit.sign());
    let why = if said.frame.is_some() {
        "as said on the command line"
    } else if guessed_frame(imported) {
        "GUESS: as in most medical images; only views depend on it"
    } else {
        "as the file states"
    };
    let _ = writeln!(text, "frame = \"{}\" # {why}", imported.frame.name());
    let _ = writeln!(
        text,
        "smooth_mm = {} # moves no point by more than {:.2} mm; the tightest bend of the lines as read \
         has {:.2} mm radius, those of the branches as built stand in bendwise check",
        settings.smooth_mm, changes.largest_shift.0, changes.tightest_before.0
    );
    if changes.smoothed_more_mm > 0.0 {
        let _ = writeln!(
            text,
            "tight_bends = \"eased\" # {:.1} mm of line smoothed more, to a scale of {:.2} mm at \
             most: there the lumen radius would be more than 0.7 of that of the bend",
            changes.smoothed_more_mm, changes.largest_scale.0
        );
    } else {
        text += "tight_bends = \"eased\" # no bend needed it\n";
    }
    text += &inlet(imported);
    match settings.cut_radius_mm {
        Some(cut) => {
            let _ = writeln!(
                text,
                "cut_inlet_radius_mm = {cut} # the lines begin in a vessel more than {OTHER_VESSEL} \
                 times as wide: {:.1} mm cut off",
                changes.cut_mm
            );
        }
        None => {
            text += "cut_inlet_mm = 0 # nothing to cut off: the inlet is no much wider vessel\n";
        }
    }
    if let Some(at) = settings.divide_mm {
        let _ = writeln!(
            text,
            "divide_at_mm = {at} # GUESS: one vessel and no branch in the file; the part beyond this \
             place, 0.3 of its length from the inlet, is called a branch so that there is a target"
        );
    }
    text
}

/// The line that says where the tree begins; a note only where the file says it.
fn inlet(imported: &Imported) -> String {
    let inlet = &imported.changes.inlet;
    let line = format!("inlet_mm = {}", written_out(&inlet.at));
    if !inlet.is_guess {
        return format!("# {line} # it begins there already; another end would be said so\n");
    }
    let doubt = inlet.doubt.as_deref().map_or_else(
        || "no other end gives clearly smaller turns".to_owned(),
        without_controls,
    );
    format!(
        "{line} # GUESS: the widest end; a point in mm in the scene's frame (x left, y head, z front); \
         {doubt}\n"
    )
}

fn rest(imported: &Imported, settings: &ImportSettings, candidate: &TargetCandidate) -> String {
    let all = &imported.branches;
    let (inlet, target) = (&all[0], &all[candidate.branch]);
    let inlet_note = imported.changes.inlet_note();
    let mut text = format!(
        "\n[guide]\nbranch = {} # {}\n",
        quoted(&inlet.name),
        inlet_note.map_or("the inlet", String::as_str)
    );
    let tip = target
        .tip
        .map_or_else(String::new, |tip| format!("; ends in tip {tip}"));
    let why = if settings.divide_mm.is_some() {
        "no branch of the file: the part of the only vessel beyond divide_at_mm"
    } else {
        "the widest way to a side branch with room enough, or the next best"
    };
    let _ = writeln!(
        text,
        "\n[target]\nbranch = {} # {why}: nowhere below {:.2} mm{tip}",
        quoted(&target.name),
        candidate.narrowest_mm
    );
    if let Some((beyond, hold)) = candidate.short {
        let _ = writeln!(
            text,
            "beyond_ostium_mm = {beyond} # a short branch, {:.1} mm\nhold_mm = {hold} # the same",
            length(target)
        );
    }
    let _ = writeln!(
        text,
        "max_fed_mm = {:.0} # the way to its end is {:.1} mm",
        ((candidate.way_mm + SPARE_MM) / 10.0).ceil() * 10.0,
        candidate.way_mm
    );
    let _ = write!(
        text,
        "\n[[wire]] # a soft workhorse wire with a usual bend; put yours here\nname = \"soft\"\n\
         diameter_mm = {WIRE_DIAMETER_MM}\n"
    );
    text + "tip_load_gf = 0.5\ncore_mm = [[20, 0.06], [200, 0.18]]\n\
            surface = \"hydrophilic\"\nbend = { length_mm = 5, angle_deg = 60 }\n\n\
            [[technique]] # withdraw, turn, feed again\nkind = \"redirect\"\nattempts = 3\n\
            turn_deg = 120\n\n\
            [variation] # GUESS: spreads as in the shipped scenarios, for the most part without a source; \
            with 0 only the roll of the wire differs from trial to trial\n\
            roll_half_width_deg = 180 # how the bend lies at the start is not known\n\
            friction_cv = 0.2 # a coating differs from wire to wire and as it wears\n\
            turn_sd_deg = 5 # a hand does not turn to the degree\n\
            diameter_cv = 0.05 # a lumen is not measured better\n\
            bend_cv = 0.1 # a bend is shaped by hand\n\n\
            [view] # for bendwise view, and for a technique with a projected sight; it depends on frame\n\
            patient_frame = [\"left\", \"head\", \"front\"] # a file is brought into the scene's frame, which \
            lies so\n\
            current = \"AP\" # GUESS: from the front; put the view you work in\n"
}

/// A text of TOML.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}
