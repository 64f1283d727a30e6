//! What a search by hand, for as long as somebody likes, is told from outside.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

fn number(variable: &str) -> Option<u64> {
    let text = std::env::var(variable).ok()?;
    let number = text.parse();
    Some(number.unwrap_or_else(|_| panic!("{variable} = {text:?} is no whole number")))
}

/// The seed that `BENDWISE_SEED` gives, or another one each time. It is printed first, so that it
/// is known however the search ends.
pub fn seed() -> u64 {
    let seed = number("BENDWISE_SEED").unwrap_or_else(|| {
        let now = SystemTime::now().duration_since(UNIX_EPOCH);
        now.map_or(1, |since| u64::from(since.subsec_nanos()))
    });
    eprintln!("BENDWISE_SEED={seed}");
    seed
}

/// For how long to search: as many seconds as `FUZZ_SECONDS` says, or ten minutes.
pub fn time() -> Duration {
    Duration::from_secs(number("FUZZ_SECONDS").unwrap_or(600))
}
