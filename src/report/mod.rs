//! Tables, figures and exports.
