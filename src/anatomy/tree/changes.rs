//! What was changed on the way from a file to a tree, with numbers.

use nalgebra::Vector3;

use crate::shown::counted;

/// How the note on the inlet begins.
pub(super) const INLET: &str = "inlet: ";

/// Where the tree begins.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Inlet {
    /// The place in mm, in the scene's frame, before anything was cut off.
    pub at: Vector3<f64>,
    /// Whether it was chosen by its width alone.
    pub is_guess: bool,
    /// What speaks for another end, in words.
    pub doubt: Option<String>,
}

/// What was changed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Changes {
    /// Points in the file.
    pub points_read: usize,
    /// Lines, or triangles, in the file.
    pub items_read: usize,
    /// Where the tree begins.
    pub inlet: Inlet,
    /// Lines whose points ran towards the inlet, turned.
    pub turned: usize,
    /// Points that coincide with the one before, dropped.
    pub coincident: usize,
    /// Length of the inlet part that was cut off each line that has it, in mm (largest).
    pub cut_mm: f64,
    /// Points of the file that lay in the part cut off.
    pub cut_points: usize,
    /// Length of line that repeats its trunk, dropped, in mm.
    pub repeated_mm: f64,
    /// Lines that are wholly within the splitting distance of others, dropped.
    pub duplicates: usize,
    /// Side branches too short to be kept: where, and how long, in mm.
    pub stubs: Vec<(Vector3<f64>, f64)>,
    /// Branches that began off their parent and were led onto it.
    pub joined: usize,
    /// Largest distance at which one began, in mm.
    pub largest_gap_mm: f64,
    /// Branches that leave within a lumen radius of a fork or an end, and for which no new fork was
    /// made.
    pub forks_joined: usize,
    /// Largest shift of a point by smoothing, in mm, and where.
    pub largest_shift: (f64, Vector3<f64>),
    /// Radius of the tightest bend before smoothing, in mm, and where.
    pub tightest_before: (f64, Vector3<f64>),
    /// The same after smoothing.
    pub tightest_after: (f64, Vector3<f64>),
    /// Length of line in mm that was smoothed more than stated.
    pub smoothed_more_mm: f64,
    /// Largest scale of smoothing where it is more than stated, in mm, and where.
    pub largest_scale: (f64, Vector3<f64>),
    /// Smallest lumen radius before and after smoothing, in mm.
    pub narrowest_mm: (f64, f64),
    /// Branches whose radius was limited inside their parent's lumen to that at their mouth,
    /// because they turn there more tightly than the parent's width allows.
    pub mouths_limited: usize,
    /// Whether lines were put together to lines that run through forks, so that a line may have the
    /// names of several.
    pub lines_went_through: bool,
    /// Anything else, in words.
    pub notes: Vec<String>,
}

impl Changes {
    /// The note on where the tree begins.
    #[must_use]
    pub fn inlet_note(&self) -> Option<&String> {
        self.notes.iter().find(|note| note.starts_with(INLET))
    }

    /// Each change as a name and a text with numbers.
    #[must_use]
    pub fn lines(&self) -> Vec<(&'static str, String)> {
        let at = |p: &Vector3<f64>| format!("at ({:.1}, {:.1}, {:.1}) mm", p.x, p.y, p.z);
        let bend = |(radius, p): &(f64, Vector3<f64>)| {
            if radius.is_finite() {
                format!("radius {radius:.2} mm {}", at(p))
            } else {
                "none (straight)".to_owned()
            }
        };
        let mut lines = vec![(
            "read",
            format!(
                "{}, {}",
                counted(self.points_read, "point", "points"),
                counted(self.items_read, "line or face", "lines or faces")
            ),
        )];
        if self.turned > 0 {
            let (count, whose) = (
                counted(self.turned, "line", "lines"),
                if self.turned == 1 { "its" } else { "their" },
            );
            lines.push((
                "turned",
                format!("{count}: {whose} points ran towards the inlet"),
            ));
        }
        if self.coincident > 0 {
            let text = format!(
                "{} in the same place as the one before",
                counted(self.coincident, "point", "points")
            );
            lines.push(("dropped", text));
        }
        if self.cut_mm > 0.0 {
            lines.push((
                "inlet cut off",
                format!(
                    "{:.1} mm of each line at most, {}",
                    self.cut_mm,
                    counted(self.cut_points, "point", "points")
                ),
            ));
        }
        if self.repeated_mm > 0.0 {
            let text = format!("{:.1} mm of line that repeats its trunk", self.repeated_mm);
            lines.push(("dropped", text));
        }
        if self.duplicates > 0 {
            lines.push((
                "dropped",
                counted(
                    self.duplicates,
                    "line that repeats others",
                    "lines that repeat others",
                ),
            ));
        }
        for (place, length) in &self.stubs {
            lines.push(("dropped", format!("a stub of {length:.2} mm {}", at(place))));
        }
        if self.joined > 0 {
            lines.push((
                "joined",
                format!(
                    "{}, by {:.3} mm at most",
                    counted(
                        self.joined,
                        "branch that began off its parent",
                        "branches that began off their parent"
                    ),
                    self.largest_gap_mm
                ),
            ));
        }
        if self.forks_joined > 0 {
            let text = format!(
                "{} within a lumen radius of a fork or an end, on a branch in its middle",
                counted(self.forks_joined, "branch that hangs", "branches that hang")
            );
            lines.push(("not cut", text));
        }
        lines.push((
            "largest shift",
            format!(
                "{:.3} mm by smoothing, {}",
                self.largest_shift.0,
                at(&self.largest_shift.1)
            ),
        ));
        if self.smoothed_more_mm > 0.0 {
            let text = format!(
                "{:.1} mm of line, to a scale of {:.2} mm at most, {}: there the lumen radius would \
                 be more than 0.7 of that of the bend",
                self.smoothed_more_mm,
                self.largest_scale.0,
                at(&self.largest_scale.1)
            );
            lines.push(("smoothed more", text));
        }
        lines.push(("tightest bend read", bend(&self.tightest_before)));
        lines.push((
            "smallest lumen diameter",
            format!(
                "{:.3} mm before smoothing, {:.3} mm after",
                2.0 * self.narrowest_mm.0,
                2.0 * self.narrowest_mm.1
            ),
        ));
        if self.mouths_limited > 0 {
            lines.push((
                "lumen at mouths",
                format!(
                    "of {} limited, inside the parent's lumen, to that at the ostium",
                    counted(self.mouths_limited, "branch", "branches")
                ),
            ));
        }
        lines.extend(self.notes.iter().map(|n| ("note", n.clone())));
        lines
    }
}
