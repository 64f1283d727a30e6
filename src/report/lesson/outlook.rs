//! A lesson in words before it is built.

use std::fmt::Write as _;

use crate::report::CAUTION;
use crate::scenario::lesson::LessonSpec;
use crate::scenario::lesson::model::{ClaimSpec, Limit};
use crate::shown::counted;
use crate::study::StudySetup;
use crate::study::lesson::LessonPages;

/// What a lesson will be: its pages, what each changes, and what is claimed of its trials.
#[must_use]
pub fn outlook(spec: &LessonSpec, pages: &LessonPages, setup: &StudySetup) -> String {
    let mut out = format!("LESSON {}: {}\n", spec.name, spec.title);
    let _ = writeln!(out, "{}\n", spec.description);
    let _ = writeln!(out, "scenario      {}", pages.base.scenario.name);
    let _ = writeln!(
        out,
        "trials        {} on each of {}, {} of them recorded, seed {}",
        setup.trials,
        counted(pages.pages.len(), "page", "pages"),
        setup.recorded,
        setup.seed
    );
    let _ = writeln!(out, "content hash  {}", pages.files_hash);
    for (number, (page, built)) in spec.pages.iter().zip(&pages.pages).enumerate() {
        let [technique, wire] = built.at_work();
        let _ = writeln!(
            out,
            "\nPAGE {} ({}): {}",
            number + 1,
            page.name,
            built.title
        );
        if let Some(changed) = &built.changed {
            let path = changed.path.as_ref();
            let path = path.map_or(String::new(), |path| format!(" ({path})"));
            let _ = writeln!(
                out,
                "  changes  {}{path} from {} to {}",
                changed.what, changed.from, changed.to
            );
        }
        let _ = writeln!(out, "  with     {technique}, {wire}");
        let opening = &page.opening;
        let [right, up] = opening.turned_deg;
        let turned = if right.abs() + up.abs() > 0.0 {
            format!(" turned by {right} and {up} degrees")
        } else {
            String::new()
        };
        let _ = writeln!(
            out,
            "  opens    at {}, seen {}{turned}",
            opening.moment.written(),
            opening.view.written()
        );
        for claim in &page.claims {
            let _ = writeln!(out, "  claims   {}", claimed(claim));
        }
    }
    let _ = writeln!(out, "\nCAUTION\n{CAUTION}");
    out
}

fn claimed(claim: &ClaimSpec) -> String {
    let bounds = claim.bounds.iter().map(|(bound, limit)| match limit {
        Limit::Number(number) => format!("{} {number}", bound.words()),
        Limit::Measured(other) => format!("{} {}", bound.words(), other.written()),
    });
    let bounds: Vec<String> = bounds.collect();
    format!("{} is {}", claim.value.written(), bounds.join(" and "))
}
