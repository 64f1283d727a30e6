//! The store on a file system in memory and on a real one: kills at every operation, power cuts,
//! and users who work in the same folders.

mod damage;
mod every_stop;
mod fake;
mod killed;
mod model;
mod outside;
mod process;
mod user;
mod work;

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Chance with a seed.
pub struct Dice(ChaCha8Rng);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// A number below `count`, which is at least 1.
    pub fn below(&mut self, count: usize) -> usize {
        let drawn = self.0.next_u64() % count as u64;
        usize::try_from(drawn).unwrap_or(0)
    }

    /// True once in so many times.
    pub fn once_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }

    pub fn one_of<T: Copy>(&mut self, items: &[T]) -> T {
        items[self.below(items.len())]
    }
}
