//! `report.md`: the sweep on one page, in plain words.

use std::fmt::Write as _;

use super::summary::SweepSummary;
use super::{parameters, words};
use crate::report::page::{comparison_table, reached_of, table, unresolved_words};
use crate::scenario::sweep::model::{DesignKind, ParameterSpec, number, shown};
use crate::study::sweep::{PeakOfPoints, RaceResult, StrategyTotals};

/// The page.
#[must_use]
pub fn sweep_page(summary: &SweepSummary) -> String {
    let mut page = String::new();
    opening(&mut page, summary);
    if let Some(race) = &summary.race {
        search(&mut page, summary, race);
    }
    page.push_str("## Success over all points\n\n");
    page.push_str(&table(
        &[
            "strategy",
            "reached",
            "unresolved",
            "rate (95 % interval)",
            "draws",
            "effective trials",
            "trials for a width of 0.1 / 0.05",
        ],
        summary.totals.iter().map(totals_row),
    ));
    let words = unresolved_words(summary.unresolved_in_all, summary.trials_in_all);
    let _ = writeln!(page, "\n{words}\n");
    page.push_str(&words::on_draws(&summary.totals));
    forces(&mut page, summary);
    best(&mut page, summary);
    comparisons(&mut page, summary);
    parameters::sensitivities(&mut page, summary);
    parameters::regressions(&mut page, summary);
    page.push_str("## Columns of trials.csv and trials.parquet\n\n");
    page.push_str(&table(
        &["column", "holds", "unit", "meaning"],
        summary.columns.iter().map(|c| {
            vec![
                format!("`{}`", c.name),
                c.kind.clone(),
                c.unit.clone(),
                c.meaning.clone(),
            ]
        }),
    ));
    page.push_str(
        "\n`points.csv` has a row for each strategy at each point: parameters, trials, successes, \
         exact 95 % interval, outcomes, forces, what became of a vessel that gives way (medians of the trials \
         that are not unresolved, and how many of them folded the wall; empty for one that does not), the success of every trial as a row of 1 and 0, \
         and why a point could not be built. A number that is missing is an empty field there and in \
         `trials.csv`, and null in `trials.parquet`; it is in no median.\n",
    );
    let _ = writeln!(page, "\n## Caution\n\n{}", summary.caution);
    page
}

fn opening(page: &mut String, summary: &SweepSummary) {
    let setup = &summary.setup;
    let _ = writeln!(page, "# {}\n\n{}\n", setup.of.name(), setup.description);
    let _ = writeln!(
        page,
        "Scenario {}; anatomy: {}.\n",
        setup.scenario,
        setup.origin.trim_end_matches('.')
    );
    let design = match setup.design.kind {
        DesignKind::Grid => "full grid".to_owned(),
        DesignKind::LatinHypercube { .. } => "Latin hypercube".to_owned(),
        DesignKind::Sobol { .. } => "scrambled Sobol sequence".to_owned(),
        DesignKind::PickFreeze { rows } => format!("pick-freeze design of {rows} rows"),
    };
    let _ = writeln!(
        page,
        "{} points ({design}), {} trials in all, seed {}, bendwise {}, content {}.\n",
        setup.points,
        summary.trials_in_all,
        setup.seed,
        setup.version,
        &setup.content_hash[..16.min(setup.content_hash.len())]
    );
    if let Some((point, reason)) = &summary.not_built.first {
        let _ = writeln!(
            page,
            "**{} of {} points {} and have no trials.** The first is point {point}: {reason}.\n",
            summary.not_built.points,
            setup.points,
            match setup.of.so_far() {
                None => "could not be built",
                Some(_) => "are not computed yet or could not be built",
            }
        );
    }
}

fn totals_row(totals: &StrategyTotals) -> Vec<String> {
    let needed = |width: &str| match totals.trials_for_width.get(width).copied().flatten() {
        Some(trials) => trials.to_string(),
        None => "-".to_owned(),
    };
    vec![
        totals.name.clone(),
        format!("{} of {}", totals.reached, totals.trials),
        totals.unresolved.to_string(),
        rate(totals.rate, totals.ci95),
        format!("{:.0}", totals.draws),
        format!("{:.0}", totals.effective_trials),
        format!("{} / {}", needed("0.1"), needed("0.05")),
    ]
}

/// Peak forces of the strategies over all points.
fn forces(page: &mut String, summary: &SweepSummary) {
    let text = |peak: Option<PeakOfPoints>| match peak {
        None => vec!["-".to_owned(); 3],
        Some(PeakOfPoints {
            median,
            range: [least, most],
            largest_p95,
        }) => vec![
            force(median),
            format!("{} to {}", force(least), force(most)),
            force(largest_p95),
        ],
    };
    page.push_str("## Peak forces over all points\n\n");
    page.push_str(&table(
        &[
            "strategy",
            "wall, mN",
            "wall, by point",
            "wall, largest p95",
            "push, mN",
            "push, by point",
            "push, largest p95",
        ],
        summary.totals.iter().map(|totals| {
            let mut cells = vec![totals.name.clone()];
            cells.extend(text(totals.peak_wall_force_mn));
            cells.extend(text(totals.peak_push_force_mn));
            cells
        }),
    ));
    page.push_str(
        "\nEach point has a median over its trials; these are the median of the points, the least and the \
         largest of them, and the largest force that 95 % of the trials of a point stay below (p95). All in \
         mN. The wall force is that beyond the guide. `points.csv` has both for each point.\n\n",
    );
}

/// A force in mN with the digits that matter.
fn force(value: f64) -> String {
    match value {
        v if v < 0.095 => format!("{v:.3}"),
        v if v < 0.95 => format!("{v:.2}"),
        v if v < 99.5 => format!("{v:.1}"),
        v => format!("{v:.0}"),
    }
}

fn rate(rate: f64, [low, high]: [f64; 2]) -> String {
    format!(
        "{:.0} % ({:.0} to {:.0} %)",
        100.0 * rate,
        100.0 * low,
        100.0 * high
    )
}

fn best(page: &mut String, summary: &SweepSummary) {
    let (Some(map), false) = (&summary.setup.map, summary.best.is_empty()) else {
        return;
    };
    let axis = |column: &str| {
        let mut parameters = summary.setup.design.parameters.iter();
        parameters
            .find(|p| p.column == column)
            .map_or(column.to_owned(), ParameterSpec::axis)
    };
    page.push_str("## Best field of the map\n\n");
    let panel = map.panel.as_deref().map(axis);
    let (x, y) = (axis(&map.x), axis(&map.y));
    let (x_alike, y_alike) = (format!("{x} alike"), format!("{y} alike"));
    let mut heads = vec!["strategy"];
    heads.extend(panel.as_deref());
    heads.extend([&x, &y].map(String::as_str));
    heads.extend(["reached", "rate (95 % interval)", "fields alike"]);
    heads.extend([&x_alike, &y_alike].map(String::as_str));
    let ratio = ratio_to_panel(summary);
    heads.extend(ratio.as_deref());
    page.push_str(&table(
        &heads,
        summary
            .best
            .iter()
            .filter(|best| best.cell.count.reached > 0)
            .map(|best| {
                let cell = &best.cell;
                let range = |[low, high]: [f64; 2]| format!("{} to {}", digits(low), digits(high));
                let mut cells = vec![cell.strategy.clone()];
                let value = cell.panel.as_ref();
                cells.extend(value.map(|v| number(v).map_or(shown(v), digits)));
                cells.extend([
                    digits(cell.x),
                    digits(cell.y),
                    reached_of(cell.count.reached, cell.count.trials, cell.count.unresolved),
                    rate(cell.count.rate, cell.count.ci95),
                    format!("{} of {}", best.fields_alike, best.fields),
                    range(best.x_alike),
                    range(best.y_alike),
                ]);
                if ratio.is_some() {
                    let size = value.and_then(number).unwrap_or(f64::NAN);
                    let over = best.x_alike.map(|x| x / size);
                    cells.push(format!("{} ({})", digits(cell.x / size), range(over)));
                }
                cells
            }),
    ));
    page.push_str(
        "\nEach field pools the values of the parameters that are not on the map. \"Alike\" are the \
         fields whose interval reaches up to the best rate; the best of many is likely to look \
         better than it is. Of a strategy that reached in no field none is best.\n\n",
    );
}

/// Name of the ratio of x to the panel's parameter, where both have one unit: "bend length over
/// vessel diameter".
fn ratio_to_panel(summary: &SweepSummary) -> Option<String> {
    let map = summary.setup.map.as_ref()?;
    let find = |column: &str| {
        let mut parameters = summary.setup.design.parameters.iter();
        parameters.find(|p| p.column == column)
    };
    let (x, panel) = (find(&map.x)?, find(map.panel.as_deref()?)?);
    let same = x.unit == panel.unit && !x.unit.is_empty();
    same.then(|| format!("{} over {} (alike)", x.label, panel.label))
}

fn comparisons(page: &mut String, summary: &SweepSummary) {
    if summary.comparisons.is_empty() || summary.setup.search.is_some() {
        return;
    }
    page.push_str("## Strategies against each other on the same points and draws\n\n");
    page.push_str(&comparison_table(summary.comparisons.iter()));
    page.push_str(
        "\nInterval of Agresti and Min on an effective number of pairs, found from the draws like the \
         effective trials; p by Student's distribution on the mean differences of the draws, not \
         corrected for the number of comparisons.\n\n",
    );
}

/// A number with three digits that count.
pub(super) fn digits(value: f64) -> String {
    if !value.is_finite() {
        return "without bound".to_owned();
    }
    if value != 0.0 && !(1e-3..1e5).contains(&value.abs()) {
        return format!("{value:.1e}");
    }
    let rounded: f64 = format!("{value:.2e}").parse().unwrap_or(value);
    rounded.to_string()
}

fn search(page: &mut String, summary: &SweepSummary, race: &RaceResult) {
    let setup = &summary.setup;
    page.push_str("## The best candidate\n\n");
    let Some(best) = &race.best else {
        page.push_str("No candidate could be built.\n\n");
        return;
    };
    let values = setup.design.point(best.point);
    let named = setup.design.parameters.iter().zip(&values);
    let settings: Vec<String> = named
        .map(|(p, value)| {
            format!("{} {} {}", p.label, shown(value), p.unit)
                .trim_end()
                .to_owned()
        })
        .collect();
    let strategy = setup
        .strategies
        .get(best.strategy)
        .map_or("", |s| s.name.as_str());
    let _ = writeln!(
        page,
        "**{}, {strategy}** (point {}): {} trials reached the target{}.\n",
        settings.join(", "),
        best.point,
        reached_of(
            best.reached.into(),
            best.trials.into(),
            best.unresolved.into()
        ),
        setup.search.as_ref().map_or(String::new(), |search| {
            format!(
                " with no more than {} mN on the wall",
                search.wall_force_limit_mn
            )
        })
    );
    if let Some(confirmed) = race.confirmed.as_ref().filter(|c| c.trials > 0) {
        let _ = writeln!(
            page,
            "On new draws, which the search had not seen, it reached the target in {}: {}.\n",
            reached_of(
                confirmed.reached.into(),
                confirmed.trials.into(),
                confirmed.unresolved.into()
            ),
            rate(confirmed.rate, confirmed.ci95)
        );
    }
    let sure = 100.0 * race.confidence;
    let _ = if race.decided {
        writeln!(
            page,
            "With {sure} % confidence it is the best of the {} candidates.\n",
            race.candidates
        )
    } else {
        writeln!(
            page,
            "With {sure} % confidence the best of the {} candidates is among the {} left (race.csv); \
             they are not told apart by {} trials each.\n",
            race.candidates,
            race.left.len(),
            best.trials
        )
    };
    let _ = writeln!(
        page,
        "The race took {} trials in place of {}.\n",
        race.trials, race.trials_without_dropping
    );
}
