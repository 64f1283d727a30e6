//! Figures of a sweep.

mod bars;
mod curves;
mod effects;
mod map;

pub use bars::SensitivityBars;
pub use curves::SuccessCurve;
pub use effects::MainEffects;
pub use map::{Map, Panel};
