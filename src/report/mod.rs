//! Tables, figures and exports.
pub mod scene;
