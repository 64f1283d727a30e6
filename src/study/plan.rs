//! What a batch is to compute.

use std::fmt::Write as _;
use std::fs::File;
use std::io;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::journal::Header;
use crate::scenario::model::Scenario;

/// One strategy as tables and files name it: a technique with a wire.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StrategyLabel {
    /// Name in tables, unique in a plan.
    pub name: String,
    /// Name in file names: letters, digits and dashes, unique in a plan.
    pub slug: String,
    /// Name of the technique.
    pub technique: String,
    /// Name of the wire.
    pub wire: String,
}

/// What a batch is to compute.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// Name of the scenario.
    pub scenario: String,
    /// Where the scenario's anatomy comes from.
    pub origin: String,
    /// Hash of what the scenario says.
    pub content_hash: String,
    /// Seed of the random draws.
    pub seed: u64,
    /// Trials of each strategy.
    pub trials: u32,
    /// Trials of each strategy, from trial 0, that leave a trace and shapes.
    pub recorded: u32,
    /// The strategies in the order of the tables.
    pub strategies: Vec<StrategyLabel>,
}

impl Plan {
    /// The plan that `scenario` asks for; `strategies` label its techniques with its wires in
    /// the order in which they are numbered.
    #[must_use]
    pub fn new(scenario: &Scenario, content_hash: &str, strategies: Vec<StrategyLabel>) -> Self {
        Self {
            scenario: scenario.name.clone(),
            origin: scenario.origin.clone(),
            content_hash: content_hash.to_owned(),
            seed: scenario.study.seed,
            trials: scenario.study.trials,
            recorded: scenario.study.recorded.min(scenario.study.trials),
            strategies,
        }
    }

    /// Trials over all strategies.
    #[must_use]
    pub fn total(&self) -> usize {
        self.strategies.len() * self.trials as usize
    }

    /// The journal's first line for this plan, computed by this build of the program.
    #[must_use]
    pub fn header(&self) -> Header {
        Header {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            build: build_fingerprint(),
            scenario: self.scenario.clone(),
            content_hash: self.content_hash.clone(),
            seed: self.seed,
            trials: self.trials,
            recorded: self.recorded,
            strategies: self.strategies.iter().map(|s| s.name.clone()).collect(),
        }
    }
}

/// The first 16 hexadecimal digits of the SHA-256 of the running executable, or "unknown" where
/// it cannot be read.
///
/// It stands in the journal, so that trials computed by two builds of the same version never
/// end up in one result.
#[must_use]
pub fn build_fingerprint() -> String {
    fn hash() -> io::Result<String> {
        let mut file = File::open(std::env::current_exe()?)?;
        let mut hasher = Sha256::new();
        let mut block = vec![0_u8; 1 << 16];
        loop {
            let read = io::Read::read(&mut file, &mut block)?;
            if read == 0 {
                break;
            }
            hasher.update(&block[..read]);
        }
        let mut text = String::new();
        for byte in hasher.finalize().iter().take(8) {
            let _ = write!(text, "{byte:02x}");
        }
        Ok(text)
    }
    hash().unwrap_or_else(|_| "unknown".to_owned())
}
