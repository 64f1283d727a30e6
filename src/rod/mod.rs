//! The discrete elastic rod: positions and twist, strains, energies with exact derivatives.
//!
//! A rod is a chain of nodes joined by straight edges. Each node carries a position (3 unknowns)
//! and each edge a rotation `theta` about itself (1 unknown), in the order `x, y, z, theta`, so
//! that the 11 unknowns of a hinge (two edges and the node between them) are consecutive and the
//! Hessian is banded with half-bandwidth 10. Where a catheter covers a wire the two share nodes
//! and reference frames, and every edge carries a second rotation: 13 unknowns a hinge and
//! half-bandwidth 12; bend and twist energies of the two devices add.
//!
//! The wire's core may yield in bending ([`CoreCell`]): its hinges then flow, and keep what they
//! have flowed.
//!
//! Stretch lives on edges; bend and twist live on hinges (inner nodes). The model is the discrete
//! elastic rod of Bergou et al., *Discrete Elastic Rods*, ACM Trans. Graph. 27(3):63, 2008, with
//! the time-parallel reference frames of Bergou et al., *Discrete Viscous Threads*, ACM Trans.
//! Graph. 29(4):116, 2010.
//!
//! | letter | meaning | unit |
//! |---|---|---|
//! | `e`, `f` | the two edge vectors at a hinge | mm |
//! | `te`, `tf` | their unit tangents | 1 |
//! | `kb` | curvature binormal `2 te × tf / (1 + te·tf)`, length `2 tan(φ/2)` | 1 |
//! | `kappa` | `kb` in the mean material frame | 1 |
//! | `m` | twist between the two material frames | rad |
//! | `S` | bending compliance of the hinge's cell, `∫ ds / B` | 1/(mN mm) |
//! | `T` | torsional compliance of the cell, `∫ ds / C` | 1/(mN mm) |

mod assemble;
mod bend;
mod flow;
mod frames;
mod hinge;
mod plastic;
mod remesh;
pub mod section;
mod state;
mod stretch;
mod superelastic;
mod twist;

pub use assemble::{Gradient, HessianSink};
pub use flow::{CoreCell, CoreLaw, Flow, FlowPotential, Piece};
pub(crate) use frames::parallel_transport;
pub use hinge::HingeDerivatives;
pub use state::{Edge, Energies, Hinge, Kinematics, Rod};
pub(crate) use state::{material_frame, node as node_of};
pub use superelastic::Flag;
