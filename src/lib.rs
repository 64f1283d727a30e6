//! `bendwise` simulates a guidewire tip that is fed, turned and withdrawn through a curved,
//! branching vessel, and says which technique reaches a target how often, with what force on
//! the wall, and why it fails when it fails.
//!
//! It is for teaching and engineering, not for clinical decisions: instructions for use, local
//! protocol and licensed operators decide.
//!
//! The program is described in the [`guide`], a page a question. This page is for those who use the
//! library. Commands, tables and figures ([`cli`], [`report`]) come with the feature `program`, which is on
//! by default; without it a third of the dependencies falls away, and half of the time to compile them.
//!
//! # A wire in a vessel
//!
//! ```
//! use bendwise::prelude::*;
//!
//! let vessel = VesselBuilder::tube_mm(3.0)
//!     .straight_mm(10.0)
//!     .arc_mm_deg(15.0, 90.0)
//!     .straight_mm(30.0)
//!     .build()?;
//! let wire = WireBuilder::from_tip_load_gf(1.0, &[(20.0, 0.07), (100.0, 0.13)])
//!     .friction(0.05)
//!     .bend_mm_deg(5.0, 60.0)
//!     .build()?;
//! let mut pushed = vessel.insert(&wire)?; // 3 mm stand out of the guide
//! pushed.feed(40.0)?; // every step ends in equilibrium
//! pushed.turn(90f64.to_radians())?;
//! let tip = pushed.tip();
//! println!("tip at {:.1}, {:.1}, {:.1} mm", tip.x, tip.y, tip.z);
//! println!("push {:.2} mN, torque {:.3} mN mm", pushed.push_force(), pushed.torque());
//! println!("largest force on a millimetre of wall {:.2} mN", pushed.contact().largest_force);
//!
//! assert!((pushed.outside_mm() - 43.0).abs() < 1e-9);
//! // Coulomb's law: no friction force exceeds mu N. 1 means that a contact slides.
//! assert!(pushed.friction_ratio() > 0.9 && pushed.friction_ratio() < 1.001);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # A trial of a scenario
//!
//! ```
//! use bendwise::prelude::*;
//!
//! let loaded = load("scenarios/side-branch.toml".as_ref())?;
//! let prepared = Prepared::new(&loaded.scenario)?;
//! let all = strategies(&loaded.scenario); // every technique with every wire
//! let strategy = all.iter().find(|s| s.name == "redirect, workhorse 1 gf").expect("a strategy");
//! let record = run_trial(&prepared, strategy, 0, true); // trial 0, recorded
//! println!("{}: {} {}", strategy.name, record.row.outcome.label(), record.row.why);
//! for step in record.trace.iter().step_by(10) {
//!     let (push, wall) = (step.push_force_mN, step.wall_force_max_mN);
//!     println!("{:6.1} mm out: push {push:6.2} mN, wall {wall:6.2} mN", step.outside_mm);
//! }
//!
//! // The same scenario, seed and number give the same trial.
//! assert_eq!(record, run_trial(&prepared, strategy, 0, true));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Notation
//!
//! Inside, lengths are in mm, forces in mN, angles in rad and time in s. A name ends in its unit where
//! a reader could doubt it; [`units`] has the conversions. Distances along a wire are counted from its
//! tip, stations along a branch from the branch's start.
//!
//! | symbol | meaning | unit | name in the code |
//! |---|---|---|---|
//! | s | distance from the tip along a wire | mm | `s`, `stations` |
//! | s | station along a branch | mm | `station_mm` |
//! | B = EI | bending stiffness | mN mm² | [`Wire::bending_stiffness`](device::Wire::bending_stiffness) |
//! | C = GJ | torsional stiffness | mN mm² | B times [`Wire::torsion_ratio`](device::Wire::torsion_ratio) |
//! | EA | axial stiffness, capped | mN | [`Wire::axial_stiffness_cap`](device::Wire::axial_stiffness_cap) |
//! | S, T | bending and torsional compliance of a hinge's cell, ∫ ds/B and ∫ ds/C | 1/(mN mm) | [`Hinge`](rod::Hinge): `bending_compliance`, `torsional_compliance` |
//! | κ | curvature in the material frame; natural: without load | 1/mm | [`Wire::natural_curvature`](device::Wire::natural_curvature) |
//! | θ | rotation of an edge about itself | rad | fourth unknown of a node, [`Rod`](rod::Rod) |
//! | m | twist between two neighbouring edges | rad | [`Rod::twist`](rod::Rod::twist) |
//! | P | tip load: buckling load of the last 10 mm | mN | [`Wire::tip_load_mn`](device::Wire::tip_load_mn) |
//! | ε | bending strain at which the core yields | 1 | [`Wire::strain_limit`](device::Wire::strain_limit) |
//! | R, r | lumen radius of a parent and of its branch | mm | [`Centreline::radius`](vessel::Centreline::radius) |
//! | a | take-off angle: the turn that a wire must make | rad | [`Branch::take_off_rad`](vessel::Branch::take_off_rad) |
//! | d, ∇d | signed distance to the wall (negative inside) and its gradient | mm, 1 | [`Lumen::distance`](vessel::Lumen::distance), [`Lumen::near_wall`](vessel::Lumen::near_wall) |
//! | k | wall stiffness: force per mm of wire and mm of depth | mN/mm² | `wall_stiffness` |
//! | N | normal force of the wall | mN | [`ContactSummary`](contact::ContactSummary), [`Patch`](contact::Patch) |
//! | μ | Coulomb coefficient | 1 | [`Wire::friction`](device::Wire::friction) |
//! | F/(μN) | friction force over its limit | 1 | [`Assembly::friction_ratio`](solve::Assembly::friction_ratio) |
//!
//! A *node* is a point of the rod, an *edge* joins two nodes, a *hinge* is an inner node with its two
//! edges. A *strategy* is a technique with a wire.
//!
//! # Reading order
//!
//! Data flows one way through the modules, and nothing downstream is imported upstream.
//!
//! | read | to learn |
//! |---|---|
//! | [`prelude`], [`builder`] | what the examples above use |
//! | [`scenario`] | every field of a scenario file with unit, range and default |
//! | [`device`], [`vessel`] | how stiff and how curved a wire is; where the wall lies |
//! | [`anatomy`] | how a file of real anatomy becomes a vessel |
//! | [`rod`], [`contact`], [`solve`] | the mechanics: energies, wall and friction, equilibrium |
//! | [`hands`], [`technique`] | what the hands can do and see; what each technique does with it |
//! | [`projection`] | what an operator sees in one view |
//! | [`trial`], [`study`] | one trial with its outcome; many trials, statistics, sweeps |
//! | [`assay`] | bench tests of a wire, with the same mechanics |
//! | [`evidence`] | checks against values from outside; how far a result can be trusted |
//! | [`report`], [`cli`] | tables and figures; commands and options |

pub mod anatomy;
pub mod assay;
pub mod builder;
#[cfg(feature = "program")]
pub mod cli;
pub mod contact;
pub mod device;
pub mod evidence;
#[cfg(feature = "faults")]
pub mod faults;
#[cfg(not(feature = "faults"))]
pub(crate) mod faults;
pub mod guide;
pub mod hands;
pub(crate) mod input;
#[cfg(feature = "program")]
pub mod live;
pub mod prelude;
pub(crate) mod products;
pub mod projection;
#[cfg(feature = "program")]
pub mod report;
pub mod rod;
pub mod scenario;
pub mod schema;
pub(crate) mod shown;
pub mod solve;
pub mod study;
pub mod technique;
pub mod trial;
pub mod units;
pub mod vessel;
