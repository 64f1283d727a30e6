//! Which trials of a sweep reached the target: a byte a trial, so that a regression can go over them
//! as often as it has to.

use crate::study::sweep::PointSummary;

/// Success of every trial, point after point.
#[derive(Debug, Default)]
pub struct Successes {
    /// Point, strategy by number, and where in `by_draw` its trials end.
    rows: Vec<(usize, usize, usize)>,
    by_draw: Vec<Option<bool>>,
}

impl Successes {
    /// Adds a point: a row for each strategy.
    pub fn add(&mut self, point: usize, summaries: &[PointSummary]) {
        for summary in summaries {
            self.by_draw.extend(&summary.by_draw);
            self.rows
                .push((point, summary.strategy, self.by_draw.len()));
        }
    }

    /// The trials of one strategy, each point with the success of every trial; `None` for one that
    /// was not run.
    pub fn of(&self, strategy: usize) -> impl Iterator<Item = (usize, &[Option<bool>])> {
        let mut begin = 0;
        let rows = self.rows.iter().map(move |&(point, of, end)| {
            let trials = &self.by_draw[begin..end];
            begin = end;
            (of, point, trials)
        });
        rows.filter(move |(of, ..)| *of == strategy)
            .map(|(_, point, trials)| (point, trials))
    }
}
