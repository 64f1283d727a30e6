//! Faults on purpose, by which tests ask whether the checks of the catalogue would see them.
//!
//! Without the feature `faults` every function here is a constant that changes nothing, and no fault can be
//! switched on. With it a test switches one on for the whole process.

/// A fault of the program.
#[cfg(feature = "faults")]
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The friction of a sliding contact acts the other way.
    FrictionSign,
    /// A rod is 5 % too stiff against bending.
    BendingFactor,
    /// Edges are four times as long as they should be.
    CoarseMesh,
}

#[cfg(feature = "faults")]
mod switched {
    use super::Fault;
    use std::sync::atomic::{AtomicU8, Ordering};

    static NOW: AtomicU8 = AtomicU8::new(0);

    /// Switches a fault on, in place of any other; `None` switches all off.
    pub fn inject(fault: Option<Fault>) {
        NOW.store(fault.map_or(0, |fault| 1 + fault as u8), Ordering::SeqCst);
    }

    pub(super) fn is(fault: Fault) -> bool {
        NOW.load(Ordering::Relaxed) == 1 + fault as u8
    }
}

#[cfg(feature = "faults")]
pub use switched::inject;

/// A constant of the program, and what it is while a fault is switched on.
macro_rules! constants {
    ($($(#[$doc:meta])* $name:ident = $right:literal, $wrong:literal at $fault:ident;)+) => {
        $(
            $(#[$doc])*
            #[cfg(feature = "faults")]
            pub(crate) fn $name() -> f64 {
                if switched::is(Fault::$fault) { $wrong } else { $right }
            }

            $(#[$doc])*
            #[cfg(not(feature = "faults"))]
            #[inline(always)]
            pub(crate) const fn $name() -> f64 {
                $right
            }
        )+
    };
}

constants! {
    /// Sign of the friction of a sliding contact.
    friction_sign = 1.0, -1.0 at FrictionSign;
    /// Factor on all bending stiffness.
    bending_factor = 1.0, 1.05 at BendingFactor;
    /// Factor on the edges of devices.
    edge_factor = 1.0, 4.0 at CoarseMesh;
}
