//! Intervals of rates and of their differences.

use bendwise::study::intervals::exact_interval;
use bendwise::study::sweep::{Contrast, Tally};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{Binomial, Discrete};

use super::{BAND, Claim, LUCK, Law, SWEEPS, assert_claim};

#[test]
fn rates_lie_in_their_intervals_as_often_as_stated() {
    use Claim::{Above, Wide, Within};
    let logit = |middle, points, draws| Law::Logit {
        middle,
        points,
        draws,
    };
    for (law, cases) in [
        // Draws decide nothing.
        (
            logit(0.0, 0.0, 0.0),
            vec![
                (2, 80, Wide),
                (4, 80, Wide),
                (8, 1, Wide),
                (8, 80, Above),
                (40, 80, Within),
            ],
        ),
        (
            logit(0.0, 3.0, 0.0),
            vec![(8, 20, Above), (16, 80, Within), (40, 6, Within)],
        ),
        (
            logit(-3.0, 1.0, 0.0),
            vec![(8, 80, Above), (40, 20, Within)],
        ),
        // They matter.
        (
            logit(0.0, 1.5, 1.0),
            vec![
                (2, 80, Wide),
                (4, 6, Wide),
                (8, 20, Within),
                (16, 80, Within),
                (40, 20, Within),
            ],
        ),
        (
            logit(0.0, 1.5, 3.0),
            vec![
                (2, 6, Wide),
                (4, 80, Wide),
                (5, 80, Within),
                (8, 80, Within),
                (16, 20, Within),
            ],
        ),
        (
            logit(-2.0, 1.5, 3.0),
            vec![
                (2, 80, Wide),
                (8, 80, Within),
                (16, 80, Within),
                (40, 6, Within),
            ],
        ),
        // They decide.
        (
            logit(0.0, 1.5, 30.0),
            vec![
                (2, 80, Wide),
                (4, 20, Wide),
                (8, 80, Wide),
                (16, 80, Above),
                (40, 80, Above),
            ],
        ),
        (
            logit(-25.0, 1.5, 30.0),
            vec![
                (4, 80, Wide),
                (8, 80, Above),
                (16, 1, Wide),
                (40, 20, Above),
            ],
        ),
        (
            Law::Hard { part: 0.4 },
            vec![(2, 80, Wide), (8, 80, Above), (16, 20, Above)],
        ),
        (
            Law::Half { part: 0.5 },
            vec![(2, 80, Wide), (4, 6, Wide), (8, 20, Wide), (16, 80, Wide)],
        ),
        (
            Law::Half { part: 0.2 },
            vec![(8, 80, Wide), (16, 20, Wide), (40, 80, Above)],
        ),
    ] {
        for (draws, points, claim) in cases {
            let truth = law.truth(points);
            let mut rng = ChaCha8Rng::seed_from_u64(17);
            let covered = (0..SWEEPS).filter(|_| {
                let mut tally = Tally::default();
                for results in law.sweep(draws, points, &mut rng) {
                    tally.add(&results, 0);
                }
                let [low, high] = tally.ci95();
                low <= truth + 1e-9 && truth <= high + 1e-9
            });
            let coverage = covered.count() as f64 / f64::from(SWEEPS);
            let what = format!("{draws} draws at {points} points, {law:?}, rate {truth:.3}");
            assert_claim(&what, coverage, claim);
        }
    }
}

/// A kind of draw that was not drawn is in no interval: with 16 draws of which one in eight succeeds
/// nowhere it is missing in 12 % of all sweeps, and these intervals miss. Of the others at least 93 %
/// cover.
#[test]
fn what_is_not_covered_are_kinds_of_draws_that_were_not_drawn() {
    let (law, draws, points) = (Law::Hard { part: 0.125 }, 16, 80);
    let truth = law.truth(points);
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let (mut all, mut seen, mut covered) = (0, 0, 0);
    for _ in 0..SWEEPS {
        let sweep = law.sweep(draws, points, &mut rng);
        let hard = |draw: usize| sweep.iter().all(|results| results[draw] == Some(false));
        let drawn = (0..draws).any(hard);
        let mut tally = Tally::default();
        sweep.iter().for_each(|results| tally.add(results, 0));
        let [low, high] = tally.ci95();
        let covers = low <= truth && truth <= high;
        all += u32::from(covers);
        seen += u32::from(drawn);
        covered += u32::from(covers && drawn);
    }
    let part = |count: u32, of: u32| f64::from(count) / f64::from(of);
    println!(
        "covered: {:.3} of all sweeps, {:.3} of those with a hard draw",
        part(all, SWEEPS),
        part(covered, seen)
    );
    assert!(part(covered, seen) >= BAND[0] - LUCK);
    assert!(part(all, SWEEPS) < BAND[0]);
}

/// Two strategies on the same draws, the second better by the draws that suit it.
#[test]
fn differences_lie_in_their_intervals_as_often_as_stated() {
    use Claim::{Above, Wide};
    let logit = |middle, draws| Law::Logit {
        middle,
        points: 1.0,
        draws,
    };
    for (first, second, draws, points, claim) in [
        (logit(0.0, 0.0), logit(0.5, 0.0), 8, 20, Above),
        (logit(0.0, 1.0), logit(0.8, 2.0), 8, 20, Above),
        (logit(0.0, 3.0), logit(1.0, 3.0), 16, 80, Above),
        (logit(-1.0, 30.0), logit(12.0, 30.0), 16, 20, Wide),
        (logit(0.0, 1.0), logit(0.8, 2.0), 2, 80, Wide),
        (logit(0.0, 3.0), logit(1.0, -3.0), 4, 20, Wide),
        (logit(0.0, 3.0), logit(1.0, -3.0), 16, 20, Above),
    ] {
        let truth = second.truth(points) - first.truth(points);
        let mut rng = ChaCha8Rng::seed_from_u64(23);
        let covered = (0..SWEEPS).filter(|_| {
            let drawn: Vec<f64> = (0..draws).map(|_| rng.random_range(0.0..1.0)).collect();
            let mut contrast = Contrast::default();
            for point in 0..points {
                let mut results = |law: &Law| -> Vec<Option<bool>> {
                    let trial =
                        |&u: &f64| Some(rng.random_range(0.0..1.0) < law.rate(point, points, u));
                    drawn.iter().map(trial).collect()
                };
                contrast.add(&results(&first), &results(&second));
            }
            let [low, high] = contrast.ci95();
            low <= truth && truth <= high
        });
        let coverage = covered.count() as f64 / f64::from(SWEEPS);
        let what = format!("{draws} draws at {points} points, difference {truth:.3}");
        assert_claim(&what, coverage, claim);
    }
}

/// Trials go on by batches until the interval is narrow, as `--until-width` has it; coverage counted
/// over all ways that it can go. Stopping early where all ended alike takes some of it.
#[test]
fn intervals_that_decide_when_to_stop_still_cover() {
    for (batch, width, most) in [(3_u32, 0.5, 200_u32), (8, 0.3, 400), (10, 0.2, 400)] {
        for rate in [0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.8] {
            let mut covered = 0.0;
            let mut going = vec![1.0];
            let mut trials = 0;
            while going.iter().any(|p| *p > 0.0) {
                let step = batch.min(most - trials);
                let more = Binomial::new(rate, u64::from(step)).unwrap();
                trials += step;
                let mut next = vec![0.0; trials as usize + 1];
                for (had, chance) in going.iter().enumerate() {
                    for new in 0..=step {
                        next[had + new as usize] += chance * more.pmf(u64::from(new));
                    }
                }
                for (reached, chance) in next.iter_mut().enumerate() {
                    let n = f64::from(trials);
                    let (low, high) = exact_interval(reached as f64 / n, n, 0.95);
                    if high - low <= width || trials >= most {
                        covered += *chance * f64::from(u8::from(low <= rate && rate <= high));
                        *chance = 0.0;
                    }
                }
                going = next;
            }
            println!(
                "batches of {batch} until {width}, rate {rate}: {:.1} %",
                100.0 * covered
            );
            // Batches of three until a width of one half end after a dozen trials: 92 % at worst.
            let least = if batch < 8 { 0.91 } else { BAND[0] };
            assert!(covered >= least, "{batch} {width} {rate}: {covered}");
        }
    }
}
