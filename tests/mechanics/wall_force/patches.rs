//! Patches against every pair of contacts.

use bendwise::contact::Contact;
use bendwise::solve::StepSettings;
use bendwise::vessel::Tree;
use nalgebra::Vector3;

use crate::common::{into_s_bend, report, s_bend};

/// Slow twin: for every contact in touch all contacts are asked whether they lie within a
/// millimetre in front of it. Sums of at most some ten forces, in another order: 1e-12.
#[test]
fn a_patch_gathers_the_contacts_of_one_millimetre_of_wire() {
    let tree = Tree::build(&s_bend()).unwrap();
    let mut wire = into_s_bend(&tree, 0.1, StepSettings::default());
    let (mut off, mut several): (f64, usize) = (0.0, 0);
    for _ in 0..60 {
        wire.feed(0.5).unwrap();
        let body = wire.wire_body().unwrap();
        let (contact, rod) = (body.contact.as_ref().unwrap(), &body.rod);
        let touching: Vec<(f64, f64, Vector3<f64>)> = contact
            .active_contacts()
            .iter()
            .map(|active| {
                let point = &contact.points[active.point];
                let along = point.fraction * rod.edges[point.edge].rest_length;
                let place = contact.point_position(rod, active.point);
                (
                    wire.stations()[point.edge] + along,
                    active.normal_force,
                    place,
                )
            })
            .collect();
        let patches = wire.patches();
        assert_eq!(patches.len(), touching.len());
        for (patch, (end, ..)) in patches.iter().zip(&touching) {
            let own = |s: f64| s <= *end && s >= end - Contact::<4>::PATCH_MM;
            let (mut force, mut moment) = (0.0, Vector3::zeros());
            for (_, f, place) in touching.iter().rev().filter(|(s, ..)| own(*s)) {
                force += f;
                moment += place * *f;
            }
            off = off.max((patch.force / force - 1.0).abs());
            off = off.max((patch.centre - moment / force).norm());
            several += usize::from(touching.iter().filter(|(s, ..)| own(*s)).count() > 1);
        }
        let most = patches.iter().map(|p| p.force).fold(0.0, f64::max);
        assert_eq!(most.to_bits(), wire.contact().largest_force.to_bits());
    }
    assert!(several > 50, "{several} patches of more than one contact");
    report("patch of contacts, against all pairs", off, 1e-12);
}
