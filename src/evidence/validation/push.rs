//! Push forces through tortuous paths.

use super::{Experiment, Pair, Says};
use crate::contact::WalledLumen;
use crate::evidence::Broken;
use crate::evidence::scenes::{guide_tip, list_wire};
use crate::scenario::model::{PieceSpec, VesselSpec};
use crate::solve::{Assembly, Start, StepSettings};
use crate::vessel::Tree;

pub const EXPERIMENT: Experiment = Experiment {
    name: "push-through-bends",
    question: "With what force is a device pushed through a tortuous path?",
    source: "bench measurement of reinforced hydrophilic microcatheters over a wire, largest force 9 to 14 gf (88 to \
             137 mN); kept in our notes without the name of the publication",
    scene: "A uniform device of 300 or 3000 mN mm², friction 0.03, pushed through two bends of 60 degrees and 10 mm \
            radius, lumen 2.5 mm",
    unknown: &[
        "the radii and turns of the path",
        "the stiffness of the devices along their length",
        "the friction in the tubes",
    ],
    unknown_decides: true,
    compare,
};

const STIFFNESSES: [f64; 2] = [300.0, 3000.0];

fn compare() -> Result<Vec<Pair>, Broken> {
    let bend = |plane_rad: f64| PieceSpec::Arc {
        radius_mm: 10.0,
        angle_rad: 60f64.to_radians(),
        plane_rad,
    };
    let tube = VesselSpec::single_tube(
        vec![
            PieceSpec::Straight { length_mm: 5.0 },
            bend(0.0),
            bend(std::f64::consts::PI),
            PieceSpec::Straight { length_mm: 30.0 },
        ],
        2.5,
    );
    let tree = Tree::build(&tube)?;
    STIFFNESSES
        .iter()
        .map(|&stiffness| pair(&tree, stiffness))
        .collect()
}

fn pair(tree: &Tree, stiffness: f64) -> Result<Pair, Broken> {
    let start = Start {
        outside_mm: 2.0,
        longest_mm: 60.0,
        roll_rad: 0.0,
    };
    let device = list_wire(stiffness, 0.6, 0.03)?;
    let lumen = WalledLumen::new(tree, 300.0);
    let settings = StepSettings::default();
    let mut device = Assembly::straight(&device, lumen, guide_tip(), settings, start)?;
    let mut peak: f64 = 0.0;
    for _ in 0..40 {
        device.feed(1.0)?;
        peak = peak.max(device.push_force());
    }
    Ok(Pair {
        what: format!("largest push (mN), device of {stiffness} mN mm²"),
        published: "88 to 137, another path".to_owned(),
        simulated: format!("{peak:.1}, as large as stiffness and bends are chosen"),
        says: Says::CannotTell,
    })
}
