//! What the page of a sweep says of its parameters: sensitivities and regressions.

use super::page::digits;
use super::regression::Regression;
use super::summary::{StrategySensitivities, SweepSummary};
use super::words;
use crate::report::page::{probability, table};
use crate::scenario::sweep::model::DesignKind;
use crate::shown::fixed;
use crate::study::sweep::{Index, NotFitted};

/// The shares of the parameters in the variance of the success rate.
pub(super) fn sensitivities(page: &mut String, summary: &SweepSummary) {
    if summary.setup.of.so_far().is_some() {
        page.push_str(
            "## Sensitivity of the success rate\n\nNot told before all shares are joined: a part of a design says \
             nothing about it.\n\n",
        );
    }
    if summary.sensitivities.is_empty() {
        return;
    }
    let grid = summary.setup.design.kind == DesignKind::Grid;
    page.push_str("## Sensitivity of the success rate\n\n");
    let text = |index: &Index| {
        let [low, high] = index.ci95.map(|end| fixed(end, 2));
        format!("{} ({low} to {high})", fixed(index.value, 2))
    };
    let row = |of: &StrategySensitivities| -> Vec<Vec<String>> {
        of.parameters
            .iter()
            .map(|p| {
                vec![
                    of.strategy.clone(),
                    p.parameter.clone(),
                    text(&p.first_order),
                    p.total.as_ref().map_or("-".to_owned(), text),
                ]
            })
            .collect()
    };
    page.push_str(&table(
        &[
            "strategy",
            "parameter",
            "alone (first order)",
            "with interactions (total)",
        ],
        summary.sensitivities.iter().flat_map(row),
    ));
    page.push_str(if grid {
        "\nShare of the variance of the true success rate over the grid (95 % interval: jackknife over \
         the draws). A grid tells what each parameter explains alone; what is missing to 1 is in their \
         interactions. A pick-freeze design tells the totals too.\n\n"
    } else {
        "\nSobol indices of the success rate over these draws, with jackknife 95 % intervals over the \
         rows of the design; other draws are not in them. An index lies between 0 and 1; an estimate below 0 comes from too few \
         rows to tell the index from 0.\n\n"
    });
}

/// The logistic regressions of success.
pub(super) fn regressions(page: &mut String, summary: &SweepSummary) {
    page.push_str("## Logistic regression of success\n\n");
    let rows = |regression: &Regression| -> Vec<Vec<String>> {
        if regression.fit.is_none() {
            let reason = regression.not_fitted.map_or("", NotFitted::words);
            return vec![vec![
                regression.strategy.clone(),
                format!("no fit: {reason}"),
                String::new(),
                String::new(),
                String::new(),
            ]];
        }
        regression
            .over_range
            .iter()
            .map(|over| {
                let [low, high] = over.ci95;
                let ends = match &over.reference {
                    Some(reference) => format!("against {reference}"),
                    None => format!("{} to {}", digits(over.range[0]), digits(over.range[1])),
                };
                let mark = if over.unbounded { " (separates)" } else { "" };
                vec![
                    regression.strategy.clone(),
                    format!("{}{mark}", over.name),
                    ends,
                    format!(
                        "{} ({} to {})",
                        digits(over.odds_ratio),
                        digits(low),
                        digits(high)
                    ),
                    probability(over.p),
                ]
            })
            .collect()
    };
    page.push_str(&table(
        &[
            "strategy",
            "parameter",
            "from, to",
            "odds ratio from end to end (95 % interval)",
            "p",
        ],
        summary.regressions.iter().flat_map(rows),
    ));
    page.push_str(&words::on_regressions(&summary.regressions));
}
