//! The map of wall forces: for every strategy and every stretch of a branch, how hard its trials
//! pressed there.

use std::collections::BTreeMap;

use super::statistics::quantile;
use crate::trial::result::Pressed;

/// What the trials of one strategy did on one stretch of a branch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapField {
    /// Strategy, by number.
    pub strategy: usize,
    /// Branch, by number.
    pub branch: usize,
    /// Stretch, by number; see [`Pressed::stretch`].
    pub stretch: u32,
    /// Trials that pressed there; 1 or more.
    pub trials: u32,
    /// Largest wall force of any trial there, in mN.
    pub largest_mn: f64,
    /// Median, over the trials that pressed there, of the largest wall force of each, in mN.
    pub median_mn: f64,
}

/// The fields on which anything pressed, by strategy, branch and stretch; `pressed` holds a list for
/// each strategy, in it one for each trial.
#[must_use]
pub fn force_map(pressed: &[Vec<Vec<Pressed>>]) -> Vec<MapField> {
    let mut fields = Vec::new();
    for (strategy, trials) in pressed.iter().enumerate() {
        let mut forces: BTreeMap<(usize, u32), Vec<f64>> = BTreeMap::new();
        for p in trials.iter().flatten() {
            forces
                .entry((p.branch, p.stretch))
                .or_default()
                .push(p.force_mn);
        }
        fields.extend(
            forces
                .into_iter()
                .map(|((branch, stretch), forces)| MapField {
                    strategy,
                    branch,
                    stretch,
                    trials: u32::try_from(forces.len()).unwrap_or(u32::MAX),
                    largest_mn: forces.iter().copied().fold(0.0, f64::max),
                    median_mn: quantile(&forces, 0.5).unwrap_or(f64::NAN),
                }),
        );
    }
    fields
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_counts_only_the_trials_that_pressed_there() {
        let at = |stretch, force_mn| Pressed {
            branch: 1,
            stretch,
            force_mn,
        };
        let trials = vec![
            vec![at(4, 2.0), at(5, 1.0)],
            vec![],
            vec![at(4, 6.0)],
            vec![at(4, 3.0)],
        ];
        let map = force_map(&[Vec::new(), trials]);
        let told: Vec<_> = map
            .iter()
            .map(|f| {
                (
                    f.strategy,
                    f.branch,
                    f.stretch,
                    f.trials,
                    f.largest_mn,
                    f.median_mn,
                )
            })
            .collect();
        assert_eq!(told, [(1, 1, 4, 3, 6.0, 3.0), (1, 1, 5, 1, 1.0, 1.0)]);
    }
}
