//! Sums up the rows of a sweep point by point, without keeping them.

use std::collections::BTreeMap;

use toml::Value;

use super::contrast::Contrast;
use super::design::{Role, value_at};
use super::findings::{Bin, Cell, Count, Effect, Refused, StrategyTotals};
use super::peaks::PeakTally;
use super::point::{OUTCOMES, PointSummary};
use super::sensitivity::{Index, PickFreeze, Sensitivity};
use super::tally::Tally;
use super::variance::GridVariance;
use crate::scenario::sweep::model::{DesignKind, Values, number};
use crate::study::intervals::trials_for_width;
use crate::study::statistics::mcnemar_exact;
use crate::study::{Comparison, StudySetup};
use crate::trial::result::Outcome;

/// Fewest and most bins of equal probability for a parameter that is no list.
const BINS: [f64; 2] = [3.0, 8.0];
/// Points that a field of the map should have on average.
const POINTS_IN_FIELD: f64 = 4.0;
/// Interval widths for which the trials needed are told.
const WIDTHS: [f64; 3] = [0.2, 0.1, 0.05];

/// Sums over a sweep.
#[derive(Debug)]
pub struct Digest<'p> {
    setup: &'p StudySetup,
    totals: Vec<(Tally, [u64; OUTCOMES], f64)>,
    /// By pair of strategies.
    pairs: Vec<Contrast>,
    /// By parameter, bin and strategy.
    bins: Vec<Vec<Vec<Tally>>>,
    /// Bins of a parameter that is no list.
    drawn_bins: usize,
    /// By panel, x and y bin, and strategy.
    cells: BTreeMap<[usize; 3], Vec<Tally>>,
    pick_freeze: Vec<PickFreeze>,
    /// Rates of the current row of a pick-freeze design, by strategy.
    row: Vec<Vec<f64>>,
    grid: Vec<GridVariance>,
    /// Peak wall and push force, by strategy.
    peaks: Vec<[PeakTally; 2]>,
    refused: Refused,
}

impl<'p> Digest<'p> {
    /// Empty sums of a study.
    #[must_use]
    pub fn new(setup: &'p StudySetup) -> Self {
        let strategies = setup.strategies.len();
        let parameters = &setup.design.parameters;
        let wanted = (setup.points as f64 / POINTS_IN_FIELD)
            .sqrt()
            .clamp(BINS[0], BINS[1]);
        let drawn_bins = (0..)
            .take_while(|&bins| f64::from(bins) < wanted.floor())
            .count();
        let bins: Vec<usize> = parameters
            .iter()
            .map(|p| p.levels().map_or(drawn_bins, <[_]>::len))
            .collect();
        let pick_freeze = matches!(setup.design.kind, DesignKind::PickFreeze { .. });
        let fixed = setup.until_width.is_none() && setup.search.is_none();
        let grid = setup.design.kind == DesignKind::Grid && fixed;
        Self {
            setup,
            totals: vec![(Tally::default(), [0; OUTCOMES], 0.0); strategies],
            pairs: vec![Contrast::default(); strategies * strategies],
            bins: bins
                .iter()
                .map(|&bins| vec![vec![Tally::default(); strategies]; bins])
                .collect(),
            drawn_bins,
            cells: BTreeMap::new(),
            pick_freeze: if pick_freeze {
                vec![PickFreeze::new(parameters.len(), setup.seed); strategies]
            } else {
                Vec::new()
            },
            row: vec![Vec::new(); strategies],
            grid: if grid {
                vec![GridVariance::new(&bins, setup.trials); strategies]
            } else {
                Vec::new()
            },
            peaks: vec![[PeakTally::new(), PeakTally::new()]; strategies],
            refused: Refused::default(),
        }
    }

    /// Adds a point.
    pub fn add(&mut self, point: usize, refused: Option<&str>, summaries: &[PointSummary]) {
        if let Some(reason) = refused {
            self.refused.points += 1;
            if self.refused.first.is_none() {
                self.refused.first = Some((point, reason.to_owned()));
            }
        }
        let bins = self.bins_of(point);
        let cell = self.cell_of(&bins);
        for summary in summaries {
            let s = summary.strategy;
            let (results, unresolved) = (&summary.by_draw, summary.unresolved);
            let mut here = Tally::default();
            here.add(results, unresolved);
            self.totals[s].0.add(results, unresolved);
            for (of_parameter, &bin) in self.bins.iter_mut().zip(&bins) {
                of_parameter[bin][s].add(results, unresolved);
            }
            if let Some(cell) = cell {
                let empty = || vec![Tally::default(); summaries.len()];
                self.cells.entry(cell).or_insert_with(empty)[s].add(results, unresolved);
            }
            for (sum, count) in self.totals[s].1.iter_mut().zip(summary.outcomes) {
                *sum += u64::from(count);
            }
            let peaks = [&summary.peak_wall_force_mn, &summary.peak_push_force_mn];
            for (tally, peak) in self.peaks[s].iter_mut().zip(peaks) {
                tally.add(peak);
            }
            if summary.trials > 0 {
                let [low, high] = here.ci95();
                self.totals[s].2 = self.totals[s].2.max(high - low);
                if let Some(grid) = self.grid.get_mut(s) {
                    grid.add(&bins, &summary.by_draw);
                }
            }
        }
        self.add_pairs(summaries);
        self.add_row(point, summaries);
    }

    fn add_pairs(&mut self, summaries: &[PointSummary]) {
        for (a, first) in summaries.iter().enumerate() {
            for (b, second) in summaries.iter().enumerate().skip(a + 1) {
                let pair = &mut self.pairs[a * summaries.len() + b];
                pair.add(&first.by_draw, &second.by_draw);
            }
        }
    }

    /// Collects the rates of a pick-freeze row; a row with a point that has no trials, because it
    /// could not be built, is left out.
    fn add_row(&mut self, point: usize, summaries: &[PointSummary]) {
        let rows = self.row.iter_mut().zip(&mut self.pick_freeze);
        let last = self.setup.design.parameters.len() + 1;
        for ((row, sums), summary) in rows.zip(summaries) {
            if self.setup.design.role(point) == Role::First {
                row.clear();
            }
            if summary.trials > 0 {
                row.push(f64::from(summary.reached) / f64::from(summary.trials));
            }
            if point % (last + 1) == last && row.len() == last + 1 {
                sums.add(row[0], row[1], &row[2..]);
            }
        }
    }

    /// Bin of every parameter at a point.
    fn bins_of(&self, point: usize) -> Vec<usize> {
        let design = &self.setup.design;
        let values = design.point(point);
        let unit = design.unit_point(point);
        let bin = |(index, value): (usize, &Value)| match design.parameters[index].levels() {
            Some(levels) => levels.iter().position(|level| level == value).unwrap_or(0),
            None => {
                let u = unit.get(index).copied().unwrap_or(0.5);
                let bins = self.drawn_bins;
                (1..bins)
                    .take_while(|&k| u * bins as f64 >= k as f64)
                    .count()
            }
        };
        values.iter().enumerate().map(bin).collect()
    }

    fn index_of(&self, column: &str) -> Option<usize> {
        let parameters = &self.setup.design.parameters;
        parameters.iter().position(|p| p.column == column)
    }

    fn cell_of(&self, bins: &[usize]) -> Option<[usize; 3]> {
        let map = self.setup.map.as_ref()?;
        let bin = |column: &str| Some(bins[self.index_of(column)?]);
        let panel = map.panel.as_ref().and_then(|panel| bin(panel));
        Some([panel.unwrap_or(0), bin(&map.x)?, bin(&map.y)?])
    }

    /// The value for which a bin stands.
    fn value_of(&self, parameter: usize, bin: usize) -> Value {
        let values = &self.setup.design.parameters[parameter].values;
        match values {
            Values::Listed { levels, .. } => levels.get(bin).cloned(),
            Values::Spread { .. } => None,
        }
        .unwrap_or_else(|| value_at(values, (bin as f64 + 0.5) / self.drawn_bins as f64))
    }

    /// The strategies over all points.
    #[must_use]
    pub fn totals(&self) -> Vec<StrategyTotals> {
        let labels = self.setup.strategies.iter().zip(&self.totals);
        labels
            .zip(&self.peaks)
            .map(|((label, (tally, outcomes, widest)), [wall, push])| {
                let needed = |width: &f64| {
                    let trials = trials_for_width(tally.rate(), *width, 0.95);
                    (width.to_string(), trials)
                };
                StrategyTotals {
                    name: label.name.clone(),
                    technique: label.technique.clone(),
                    wire: label.wire.clone(),
                    trials: tally.trials(),
                    reached: tally.reached(),
                    unresolved: tally.unresolved(),
                    rate: tally.rate(),
                    draws: tally.draws(),
                    effective_trials: tally.effective(),
                    ci95: tally.ci95(),
                    outcomes: Outcome::ALL.into_iter().zip(*outcomes).collect(),
                    peak_wall_force_mn: wall.sum(),
                    peak_push_force_mn: push.sum(),
                    widest_ci95_of_a_point: *widest,
                    trials_for_width: WIDTHS.iter().map(needed).collect(),
                }
            })
            .collect()
    }

    /// Every pair of strategies on the same points and draws.
    #[must_use]
    pub fn comparisons(&self) -> Vec<Comparison> {
        let labels = &self.setup.strategies;
        let mut comparisons = Vec::new();
        for (a, first) in labels.iter().enumerate() {
            for (b, second) in labels.iter().enumerate().skip(a + 1) {
                let pair = &self.pairs[a * labels.len() + b];
                let [both, only_first, only_second, neither] = pair.counts();
                comparisons.push(Comparison {
                    first: first.name.clone(),
                    second: second.name.clone(),
                    trials: pair.pairs(),
                    both,
                    only_first,
                    only_second,
                    neither,
                    rate_difference: pair.difference(),
                    rate_difference_ci95: pair.ci95(),
                    p_mcnemar_exact: mcnemar_exact(only_first, only_second),
                    p_by_draw: Some(pair.p_by_draw()),
                });
            }
        }
        comparisons
    }

    /// Success of every strategy against every parameter.
    #[must_use]
    pub fn effects(&self) -> Vec<Effect> {
        let mut effects = Vec::new();
        for (s, label) in self.setup.strategies.iter().enumerate() {
            for (p, parameter) in self.setup.design.parameters.iter().enumerate() {
                let bin = |(bin, tallies): (usize, &Vec<Tally>)| Bin {
                    value: self.value_of(p, bin),
                    trials: tallies[s].trials(),
                    reached: tallies[s].reached(),
                    unresolved: tallies[s].unresolved(),
                    rate: tallies[s].rate(),
                    ci95: tallies[s].ci95(),
                };
                effects.push(Effect {
                    strategy: label.name.clone(),
                    parameter: parameter.column.clone(),
                    bins: self.bins[p].iter().enumerate().map(bin).collect(),
                });
            }
        }
        effects
    }

    /// The fields of the map; empty without one.
    #[must_use]
    pub fn cells(&self) -> Vec<Cell> {
        let Some(map) = &self.setup.map else {
            return Vec::new();
        };
        let index = |column: &str| self.index_of(column).unwrap_or(0);
        let (x, y) = (index(&map.x), index(&map.y));
        let panel = map.panel.as_ref().map(|panel| index(panel));
        let as_number = |p: usize, bin: usize| number(&self.value_of(p, bin)).unwrap_or(f64::NAN);
        let mut cells = Vec::new();
        for (s, label) in self.setup.strategies.iter().enumerate() {
            for (&[panel_bin, x_bin, y_bin], tallies) in &self.cells {
                let tally = &tallies[s];
                cells.push(Cell {
                    strategy: label.name.clone(),
                    panel: panel.map(|p| self.value_of(p, panel_bin)),
                    x: as_number(x, x_bin),
                    y: as_number(y, y_bin),
                    count: Count {
                        trials: tally.trials(),
                        reached: tally.reached(),
                        unresolved: tally.unresolved(),
                        rate: tally.rate(),
                        ci95: tally.ci95(),
                    },
                });
            }
        }
        cells
    }

    /// First-order and total indices by strategy, where the design tells them.
    #[must_use]
    pub fn sensitivities(&self) -> Vec<(String, Vec<Sensitivity>)> {
        let columns = self
            .setup
            .design
            .parameters
            .iter()
            .map(|p| p.column.clone());
        let named = |indices: Vec<(Index, Option<Index>)>| -> Vec<Sensitivity> {
            let each = columns.clone().zip(indices);
            each.map(|(parameter, (first_order, total))| Sensitivity {
                parameter,
                first_order,
                total,
            })
            .collect()
        };
        let mut found = Vec::new();
        for (s, label) in self.setup.strategies.iter().enumerate() {
            let both = self.pick_freeze.get(s).and_then(PickFreeze::indices);
            let first = self.grid.get(s).and_then(GridVariance::indices);
            let indices = match (both, first) {
                (Some(both), _) => both.into_iter().map(|(f, t)| (f, Some(t))).collect(),
                (None, Some(first)) => first.into_iter().map(|f| (f, None)).collect(),
                (None, None) => continue,
            };
            found.push((label.name.clone(), named(indices)));
        }
        found
    }

    /// Points that could not be built.
    #[must_use]
    pub fn refused(&self) -> &Refused {
        &self.refused
    }
}
