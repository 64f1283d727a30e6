//! Refuses techniques that cannot be tried in a scenario, before anything runs.

use super::prepared::Prepared;
use crate::scenario::model::{Place, TechniqueSpec};
use crate::shown::listed;
use crate::technique::Loading;
use crate::vessel::Onward;

/// Why a technique cannot be tried.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TechniqueFault {
    /// The fold lies further back than wire may be fed.
    #[error(
        "the fold lies {fold_mm} mm behind the tip, but only {max_fed_mm} mm of wire may be outside the guide; allowed is fold_mm up to {allowed_mm:.1} mm, or a larger max_fed_mm of [target]"
    )]
    FoldBeyondWire {
        /// Distance of the fold's middle from the tip in mm.
        fold_mm: f64,
        /// Wire that may be outside the guide in mm.
        max_fed_mm: f64,
        /// Largest distance for that wire in mm.
        allowed_mm: f64,
    },
    /// The fold lies in a bend of the tip.
    #[error(
        "the fold begins {fold_mm} mm behind the tip, where wire {wire:?} is bent already (its bends reach back to {bent_mm} mm); allowed is a fold behind them"
    )]
    FoldInBend {
        /// Beginning of the fold in mm from the tip.
        fold_mm: f64,
        /// Wire.
        wire: String,
        /// End of its bends in mm from the tip.
        bent_mm: f64,
    },
    /// Two legs of the wire do not fit into the guide.
    #[error(
        "the two legs of wire {wire:?} ({diameter_mm} mm each) do not fit side by side into the guide, whose lumen is {inner_mm} mm wide; allowed is up to a third of that, or a larger inner_diameter_mm of [guide]"
    )]
    LegsTooThick {
        /// Wire.
        wire: String,
        /// Its diameter in mm.
        diameter_mm: f64,
        /// Diameter of the guide's lumen in mm.
        inner_mm: f64,
    },
    /// The target hangs on nothing that a balloon could block.
    #[error(
        "a balloon blocks the vessel that goes straight on, but none does where the target begins"
    )]
    NothingToBlock,
    /// The balloon reaches beyond the end of its vessel.
    #[error(
        "the balloon ends {end_mm:.1} mm beyond the branching, but the vessel that goes straight on there ({vessel}) is {length_mm:.1} mm long; allowed is a balloon that ends in it (smaller length_mm or beyond_mm)"
    )]
    BalloonOffVessel {
        /// Far end of the balloon in mm from the branching.
        end_mm: f64,
        /// Branches of the vessel that goes straight on.
        vessel: String,
        /// Its length in mm from the branching.
        length_mm: f64,
    },
    /// The anchor is no branch that could hold the tip.
    #[error(
        "the anchor {branch:?} cannot hold the tip of the wire; allowed is a branch that leaves a vessel on the way to the target and does not lead there: {allowed}"
    )]
    NoAnchor {
        /// What the technique names.
        branch: String,
        /// Names that are allowed.
        allowed: String,
    },
    /// The first wire would reach beyond the end of the vessel.
    #[error(
        "the first wire would lie {wire_mm:.1} mm beyond the branching, but the vessel that goes straight on there ({vessel}) is {length_mm:.1} mm long; allowed is up to {KEPT_MM} mm before its end (a smaller first_wire_past_mm)"
    )]
    CarrierOffVessel {
        /// Tip of the first wire in mm from the branching.
        wire_mm: f64,
        /// Branches of the vessel that goes straight on.
        vessel: String,
        /// Its length in mm from the branching.
        length_mm: f64,
    },
    /// The catheter would come off its first wire.
    #[error(
        "the catheter's tip comes to {catheter_mm:.1} mm past the branching, and the tip of its first wire lies only {wire_mm:.1} mm past it; allowed is a first_wire_past_mm of {least_mm:.1} mm or more"
    )]
    OffFirstWire {
        /// Where the catheter's tip comes to, in mm past the branching.
        catheter_mm: f64,
        /// Where the first wire's tip lies, in mm past the branching.
        wire_mm: f64,
        /// Least value.
        least_mm: f64,
    },
}

/// Length in mm that stays free in front of a catheter or wire.
const KEPT_MM: f64 = 2.0;

/// Checks one technique; returns the fault with its place.
pub(super) fn check(
    prepared: &Prepared,
    technique: &TechniqueSpec,
) -> Result<(), (TechniqueFault, Place)> {
    fold_fits(prepared, technique).map_err(|fault| (fault, technique.place.clone()))?;
    carrier_fits(prepared, technique).map_err(|fault| (fault, technique.place.clone()))?;
    balloon_fits(prepared, technique)
}

/// Whether there is an anchor where one is needed, and room for catheter and first wire.
fn carrier_fits(prepared: &Prepared, technique: &TechniqueSpec) -> Result<(), TechniqueFault> {
    let Loading::SidePort {
        carrier,
        port_past_mm,
    } = technique.plan.needs().loading
    else {
        return Ok(());
    };
    let branches = prepared.tree().branches();
    let on_the_way = prepared.on_the_way();
    if let Some(anchor) = &technique.aids.anchor {
        let mut allowed = branches.iter().enumerate().filter(|(index, branch)| {
            let leaves = branch
                .parent
                .is_some_and(|(up, _)| on_the_way.contains(&up));
            leaves && !on_the_way.contains(index)
        });
        if !allowed
            .clone()
            .any(|(_, branch)| branch.name == anchor.branch)
        {
            let names: Vec<_> = allowed.by_ref().map(|(_, b)| b.name.as_str()).collect();
            return Err(TechniqueFault::NoAnchor {
                branch: anchor.branch.clone(),
                allowed: listed(&names),
            });
        }
    }
    let Some((parent, station)) = branches[prepared.target_branch()].parent else {
        return Ok(());
    };
    let port = prepared.scenario().catheters[carrier.catheter].side_port;
    let before_port = port.map_or(0.0, |port| port.behind_tip_mm);
    let wire_mm = carrier.first_wire_past_mm;
    let catheter_mm = port_past_mm + before_port;
    if catheter_mm + KEPT_MM > wire_mm {
        return Err(TechniqueFault::OffFirstWire {
            catheter_mm,
            wire_mm,
            least_mm: catheter_mm + KEPT_MM,
        });
    }
    let onward = Onward::new(prepared.tree(), parent, station, prepared.target_branch());
    if wire_mm + KEPT_MM > onward.length_mm() {
        return Err(TechniqueFault::CarrierOffVessel {
            wire_mm,
            vessel: onward.names(),
            length_mm: onward.length_mm(),
        });
    }
    Ok(())
}

fn fold_fits(prepared: &Prepared, technique: &TechniqueSpec) -> Result<(), TechniqueFault> {
    /// Wire in mm outside the guide beside the free leg at the least.
    const BESIDE_LEG_MM: f64 = 10.0;
    let Some(fold) = technique.plan.fold() else {
        return Ok(());
    };
    let scenario = prepared.scenario();
    let fold_mm = fold.from_tip_mm + 0.5 * fold.length_mm;
    let allowed_mm = scenario.target.max_fed_mm - BESIDE_LEG_MM;
    if fold_mm > allowed_mm {
        return Err(TechniqueFault::FoldBeyondWire {
            fold_mm,
            max_fed_mm: scenario.target.max_fed_mm,
            allowed_mm,
        });
    }
    let inner_mm = scenario.guide.inner_diameter_mm;
    for (wire, spec) in prepared.wires().iter().zip(&scenario.wires) {
        if fold.from_tip_mm < wire.bends_end_mm() {
            return Err(TechniqueFault::FoldInBend {
                fold_mm: fold.from_tip_mm,
                wire: spec.name.clone(),
                bent_mm: wire.bends_end_mm(),
            });
        }
        // The main leg leaves on the guide's axis, and the free leg lies beside it.
        if 3.0 * spec.diameter_mm >= inner_mm {
            return Err(TechniqueFault::LegsTooThick {
                wire: spec.name.clone(),
                diameter_mm: spec.diameter_mm,
                inner_mm,
            });
        }
    }
    Ok(())
}

fn balloon_fits(
    prepared: &Prepared,
    technique: &TechniqueSpec,
) -> Result<(), (TechniqueFault, Place)> {
    let Some(balloon) = &technique.aids.balloon else {
        return Ok(());
    };
    let (tree, target) = (prepared.tree(), prepared.target_branch());
    let Some((parent, station)) = tree.branches()[target].parent else {
        return Err((TechniqueFault::NothingToBlock, balloon.place.clone()));
    };
    let onward = Onward::new(tree, parent, station, target);
    let end_mm = balloon.beyond_mm + balloon.length_mm;
    let length_mm = onward.length_mm();
    if end_mm <= length_mm {
        return Ok(());
    }
    if length_mm <= 0.0 {
        return Err((TechniqueFault::NothingToBlock, balloon.place.clone()));
    }
    Err((
        TechniqueFault::BalloonOffVessel {
            end_mm,
            vessel: onward.names(),
            length_mm,
        },
        balloon.place.clone(),
    ))
}
