//! `bendwise` simulates a guidewire tip that is fed, turned and withdrawn through a curved,
//! branching vessel, and says which technique reaches a target how often, with what force on
//! the wall, and why it fails when it fails.
//!
//! It is for teaching and engineering, not for clinical decisions: instructions for use, local
//! protocol and licensed operators decide.
//!
//! Data flows one way through the modules, and nothing downstream is imported upstream:
//! [`anatomy`] → [`scenario`] → [`device`] + [`vessel`] → [`projection`]; [`rod`], [`contact`],
//! [`solve`] (the mechanics) →
//! [`hands`] → [`trial`] → [`study`] → [`report`] → [`cli`]. Beside the trials stands [`assay`]: bench
//! tests of one wire with the same mechanics.
//!
//! Units inside: mm, mN, s, rad. Conversions stand in [`units`]; what reads files and words messages for
//! all of them in [`input`] and [`shown`].

pub mod anatomy;
pub mod assay;
pub mod cli;
pub mod contact;
pub mod device;
pub mod hands;
pub mod input;
pub mod projection;
pub mod report;
pub mod rod;
pub mod scenario;
pub mod schema;
pub mod shown;
pub mod solve;
pub mod study;
pub mod trial;
pub mod units;
pub mod vessel;
