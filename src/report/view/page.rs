//! `report.md` of a look at a scene.

use std::fmt::Write as _;

use super::summary::{CostLine, CourseLine, PlaceSummary, ReadPoint, ViewLine, ViewSummary};
use crate::report::page::{probability, reached_of, table, unresolved_words};
use crate::shown::signed;
use crate::study::StrategySummary;
use crate::trial::{COURSE_MM, REVEALED_SD};

/// The page: for each place the answer, the views, what the worse view costs, the course from two
/// views; then how to read it, and the caution.
#[must_use]
pub fn view_page(summary: &ViewSummary) -> String {
    let mut page = String::new();
    let _ = writeln!(page, "# Views of {}\n", summary.scenario);
    let _ = writeln!(page, "Anatomy: {}.\n", summary.origin.trim_end_matches('.'));
    let [a, b, c, d, sum] = summary.reach_deg;
    let _ = writeln!(
        page,
        "The C-arm reaches primary angles from {a} to {b} degrees (RAO negative, LAO positive) and \
         secondary angles from {c} to {d} degrees (caudal negative, cranial positive), both \
         together up to {sum} degrees. Parent, main and branch count for {} mm from the branching. \
         bendwise {}, seed {}, scenario content {}.\n",
        summary.near_mm, summary.bendwise_version, summary.seed, summary.content_hash
    );
    for place in &summary.places {
        section(&mut page, place, summary.trials);
    }
    page.push_str(HOW_TO_READ);
    let _ = writeln!(page, "\n## Caution\n\n{}", summary.caution);
    page
}

const HOW_TO_READ: &str = "## How to read it\n\n\
Foreshortening: share of its length that a vessel loses in the image, 0 % in full, 100 % end-on. \
Overlap: share of the branch's lumen in front of or behind which another vessel lies, whether or \
not one injection fills both. Ostium in \
profile: how far to the side of its parent's axis the ostium is seen, over its true distance; at \
0 % it lies in front of the parent or behind it, and a bend that is turned to the side as seen \
misses it. The recommended view makes foreshortening plus overlap plus what the ostium lacks of \
profile smallest within reach. The second view is the one most nearly square to it. Take-off \
angles are those between chords of parent and branch, 0 straight on.\n\n\
A run redirects with a sight of one projection: it sees no depth, aims the bend at the side on \
which the branch is seen to leave, and judges in the image whether it has gone astray. Runs of \
one wire differ in the view alone, on the same draws. Differences of rates: interval of Agresti \
and Min, McNemar's exact test; of attempts: Student's interval, exact sign test; a trial that \
fails counts with all the attempts that it used. p values are not corrected for the number of \
comparisons.\n";

fn section(page: &mut String, place: &PlaceSummary, trials: u32) {
    let _ = writeln!(page, "## {}\n", place.name);
    answer(page, place);
    let heads = [
        "view",
        "angles",
        "foreshortening: all",
        "parent",
        "main",
        "branch",
        "overlap",
        "ostium in profile",
        "take-off as seen, deg",
        "within reach",
    ];
    let lines = place.views.iter().chain(&place.customary);
    page.push_str(&table(&heads, lines.map(view_row)));
    page.push_str(
        "\nBelow the named views stand the customary ones, the best first (ranges of Di Mario and \
         Sutaria, Heart 2005;91:968).\n",
    );
    if let Some(published) = &place.published {
        let _ = writeln!(
            page,
            "\nPublished for such branchings, as context and not as a value that one tree should \
             meet: {published}."
        );
    }
    let _ = writeln!(
        page,
        "\n![All views](figures/views-{0}.png)\n\n![Now and as recommended](figures/seen-{0}.png)\n",
        place.slug
    );
    costs(page, place, trials);
    if let Some(course) = &place.course {
        course_lines(page, course);
    }
}

/// The answer in words.
fn answer(page: &mut String, place: &PlaceSummary) {
    let find = |what: &str| place.views.iter().find(|v| v.what == what);
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    if let (Some(best), Some(now)) = (find("recommended"), find("current")) {
        let ostium = |v: &ViewLine| {
            v.measures.ostium.map_or_else(String::new, |o| {
                format!(", ostium {} in profile", percent(o))
            })
        };
        let _ = writeln!(
            page,
            "**{} opens {}**: foreshortening {}, overlap {}{}; now ({}) {}, {}{}.\n",
            best.view,
            place.name,
            percent(best.measures.foreshortening),
            percent(best.measures.overlap),
            ostium(best),
            now.view,
            percent(now.measures.foreshortening),
            percent(now.measures.overlap),
            ostium(now)
        );
    }
    if let Some(customary) = place.customary.iter().find(|c| c.reachable) {
        let _ = writeln!(
            page,
            "Best customary view: {} ({}). Second view, {:.0} degrees from the recommended one: {}.\n",
            customary.what,
            customary.view,
            place.second_angle_deg,
            find("second view").map_or("none", |v| &v.view)
        );
    }
    if let (Some(shows), Some(both)) = (place.shows_both, find("both daughters")) {
        let limit = percent(place.both_limit);
        let verdict = if shows {
            format!("{} shows both daughter vessels at once", both.view)
        } else {
            format!(
                "No view within reach shows both daughter vessels at once; the nearest to it is {}",
                both.view
            )
        };
        let _ = writeln!(
            page,
            "{verdict} (foreshortening of either and overlap of the branch up to {limit}).\n"
        );
    }
}

fn view_row(view: &ViewLine) -> Vec<String> {
    let m = &view.measures;
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let maybe = |share: Option<f64>| share.map_or_else(|| "-".to_owned(), percent);
    vec![
        view.what.clone(),
        view.view.clone(),
        percent(m.foreshortening),
        maybe(m.parent),
        maybe(m.main),
        percent(m.branch),
        percent(m.overlap),
        maybe(m.ostium),
        m.apparent_take_off_deg
            .map_or_else(|| "-".to_owned(), |deg| format!("{deg:.0}")),
        if view.reachable { "yes" } else { "no" }.to_owned(),
    ]
}

fn costs(page: &mut String, place: &PlaceSummary, trials: u32) {
    let _ = writeln!(page, "### What the view costs\n");
    if let Some(reason) = &place.without_runs {
        let _ = writeln!(page, "No runs: {reason}.\n");
        return;
    }
    let heads = [
        "wire",
        "worked in",
        "reached",
        "rate (95 % interval)",
        "mean attempts",
    ];
    page.push_str(&table(&heads, place.cost.iter().flat_map(run_rows)));
    let heads = [
        "wire",
        "against the current view",
        "rate: change (95 % interval)",
        "p",
        "attempts: change (95 % interval)",
        "p",
    ];
    page.push('\n');
    page.push_str(&table(&heads, place.cost.iter().flat_map(difference_rows)));
    let runs = || place.cost.iter().flat_map(|cost| &cost.runs);
    let unresolved = runs().map(|run| u64::from(run.unresolved)).sum();
    let words = unresolved_words(unresolved, runs().map(|run| u64::from(run.trials)).sum());
    let _ = writeln!(
        page,
        "\n{trials} trials of each run on the same draws. {words}\n"
    );
}

/// The view in which a run works: what stands behind place and wire in its name.
fn worked_in<'s>(run: &'s StrategySummary, wire: &str) -> &'s str {
    let behind = format!("{wire}, ");
    run.name
        .split_once(&behind)
        .map_or(&run.name, |(_, view)| view)
}

fn run_rows(cost: &CostLine) -> Vec<Vec<String>> {
    let runs = cost.runs.iter().zip(&cost.mean_attempts);
    runs.map(|(run, attempts)| {
        vec![
            cost.wire.clone(),
            worked_in(run, &cost.wire).to_owned(),
            reached_of(run.reached.into(), run.trials.into(), run.unresolved.into()),
            format!(
                "{:.0} % ({:.0} to {:.0} %)",
                100.0 * run.rate,
                100.0 * run.ci95[0],
                100.0 * run.ci95[1]
            ),
            format!("{attempts:.1}"),
        ]
    })
    .collect()
}

fn difference_rows(cost: &CostLine) -> Vec<Vec<String>> {
    let others = cost.runs.iter().skip(1).zip(&cost.against_current);
    others
        .map(|(run, d)| {
            vec![
                cost.wire.clone(),
                worked_in(run, &cost.wire).to_owned(),
                format!(
                    "{} points ({} to {})",
                    signed(100.0 * d.rate, 0),
                    signed(100.0 * d.rate_ci95[0], 0),
                    signed(100.0 * d.rate_ci95[1], 0)
                ),
                probability(d.rate_p),
                format!(
                    "{} ({} to {})",
                    signed(d.attempts, 1),
                    signed(d.attempts_ci95[0], 1),
                    signed(d.attempts_ci95[1], 1)
                ),
                probability(d.attempts_p),
            ]
        })
        .collect()
}

fn course_lines(page: &mut String, course: &CourseLine) {
    let _ = writeln!(page, "### The course from two views\n");
    let _ = writeln!(
        page,
        "Read in {} and {}, {:.0} degrees apart, each reading good to {} mm (standard deviation, \
         drawn with the seed).\n",
        course.views[0], course.views[1], course.angle_deg, course.reading_sd_mm
    );
    let heads = [
        "point",
        "believed at, mm",
        "read at, mm",
        "expected error, mm",
        "true error, mm",
        "read off the belief by, mm",
    ];
    let row = |name: String, p: &ReadPoint| {
        let at = |[x, y, z]: [f64; 3]| format!("{x:.1}, {y:.1}, {z:.1}");
        vec![
            name,
            at(p.believed_mm),
            at(p.read_mm),
            format!("{:.2}", p.expected_error_mm),
            format!("{:.2}", p.error_mm),
            format!("{:.2}", p.off_belief_mm),
        ]
    };
    let rows = [
        row("ostium".to_owned(), &course.ostium),
        row(format!("{COURSE_MM} mm beyond it"), &course.beyond),
    ];
    page.push_str(&table(&heads, rows.into_iter()));
    if course.believed_elsewhere {
        let verdict = if course.revealed {
            format!(
                "The two views reveal it: a reading lies more than {REVEALED_SD} standard \
                 deviations off what is believed."
            )
        } else {
            format!(
                "The two views do not reveal it: no reading lies more than {REVEALED_SD} standard \
                 deviations off what is believed."
            )
        };
        let _ = writeln!(
            page,
            "\nThe branch does not run where the operator believes. In the current view the point \
             beyond the ostium is seen {:.1} mm off where it is believed. {verdict}\n",
            course.seen_off_in_current_view_mm
        );
    } else {
        let _ = writeln!(
            page,
            "\nNothing wrong is believed of this branch in the scenario.\n"
        );
    }
}
