//! A lumen whose wall is a surface from a file.
//!
//! [`SurfaceLumen`] answers from a grid near the wall (`grid`, `spline`) that was sampled from the
//! signed distance to the smooth surface through the mesh's points (`smooth`). The tree of
//! centrelines beside it names branches and measures progress; the wire touches the surface.
mod fill;
mod grid;
mod lumen;
mod smooth;
mod spline;

pub use lumen::SurfaceLumen;
