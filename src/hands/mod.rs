//! Hand movements and technique plans.
