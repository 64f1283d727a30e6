//! Figures, drawn once and written as PNG and SVG.
//!
//! A figure says its size and draws itself with a [`Pen`], which knows neither the format nor
//! the resolution. The look: one quiet palette that stays distinct for colour-blind readers, thin grey
//! frames, words instead of codes, units in every axis name.

mod axis;
mod canvas;
mod forces;
mod labels;
mod outcomes;
mod palette;
mod pen;
mod projection;
mod rates;
mod scene;
mod strategies;
pub mod sweep;

pub use canvas::{Figure, FigureError, save};
pub use forces::{ForcePanel, Forces};
pub use outcomes::Outcomes;
pub use pen::Pen;
pub use rates::Rates;
pub use scene::{DrawnWire, Scene, SceneRow, TrialEnd};
