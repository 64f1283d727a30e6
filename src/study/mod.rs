//! Many trials.
