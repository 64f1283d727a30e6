//! The best view of a branching in one plane is square to that plane.

use approx::assert_relative_eq;
use bendwise::projection::{ProjectionError, Site, SiteError, Subject, ViewMap, choose};
use bendwise::scenario::view::ViewAngles;
use bendwise::vessel::Tree;

use crate::vessel_common::{inlet, side, straight, vessel};
use crate::view_projection::c_arm;

fn planar(plane_deg: f64) -> Tree {
    Tree::build(&vessel(
        vec![
            inlet("trunk", vec![straight(50.0)], 3.0),
            side(
                "side",
                ("trunk", 25.0),
                (60.0_f64.to_radians(), plane_deg.to_radians()),
                vec![straight(25.0)],
                2.0,
            ),
        ],
        0.3,
    ))
    .unwrap()
}

fn branching(tree: &Tree) -> Site {
    let subject = Subject::Branching {
        branch: "side".to_owned(),
    };
    Site::new(tree, &subject, 10.0).unwrap()
}

/// The optimum of a branching is the beam normal to its plane (Tu S et al., Int J Cardiovasc
/// Imaging 2012;28:1617).
#[test]
fn the_best_view_is_square_to_the_plane_of_the_branching() {
    for plane_deg in [0.0, 25.0, 70.0, 160.0] {
        let tree = planar(plane_deg);
        let site = branching(&tree);
        let arm = c_arm(None);
        let map = ViewMap::new(&site, &arm, 1).unwrap();
        let answer = choose(&site, &arm, &map, ViewAngles::from_degrees(0.0, 0.0));
        let mouth = site.mouth.unwrap();
        let normal = mouth.axis.cross(&mouth.towards);
        let along = arm.at(&site, &answer.best.view).beam.along;
        let off = normal.dot(&along).abs().acos().to_degrees();
        assert!(off < 1.5, "plane {plane_deg}: off by {off} degrees");
        let m = answer.best.measures;
        assert!(m.foreshortening < 1e-3);
        assert!(m.ostium.unwrap() > 0.999);
        assert_relative_eq!(m.apparent_take_off_deg.unwrap(), 60.0, epsilon = 0.1);
        assert!(answer.shows_both());
        // Along the plane nothing shows to which side the branch leaves.
        let flat = choose(&site, &arm, &map, across(&site)).current.measures;
        assert!(flat.ostium.unwrap() < 0.05);
    }
}

/// The view along the direction in which the ostium lies from the parent's axis.
fn across(site: &Site) -> ViewAngles {
    let d = site.mouth.unwrap().towards;
    ViewAngles {
        primary_rad: d.x.atan2(d.z),
        secondary_rad: d.y.asin(),
    }
}

#[test]
fn the_second_view_is_as_square_to_the_first_as_the_reach_allows() {
    let tree = planar(25.0);
    let site = branching(&tree);
    let mut arm = c_arm(Some(750.0));
    let choice = |arm: &_| {
        let map = ViewMap::new(&site, arm, 1).unwrap();
        choose(&site, arm, &map, ViewAngles::from_degrees(0.0, 0.0))
    };
    assert!(choice(&arm).second.1 > 80.0_f64.to_radians());
    arm.reach.primary_rad = [-0.3, 0.3];
    arm.reach.secondary_rad = [-0.2, 0.2];
    let narrow = choice(&arm);
    assert!(narrow.recommended.reachable && narrow.second.0.reachable);
    assert!(narrow.second.1 < 45.0_f64.to_radians());
    assert!(narrow.recommended.measures.cost() >= narrow.best.measures.cost());
}

#[test]
fn a_segment_is_best_seen_square_to_it() {
    let tree = planar(0.0);
    let subject = Subject::Segment {
        branch: "trunk".to_owned(),
        from_mm: 5.0,
        to_mm: 20.0,
    };
    let site = Site::new(&tree, &subject, 10.0).unwrap();
    let arm = c_arm(None);
    let map = ViewMap::new(&site, &arm, 2).unwrap();
    let answer = choose(&site, &arm, &map, ViewAngles::from_degrees(90.0, 0.0));
    assert!(answer.best.measures.foreshortening < 1e-3);
    assert!(answer.both.is_none());
    // The trunk runs along x: from the patient's left it is seen end-on.
    assert_relative_eq!(answer.current.measures.foreshortening, 1.0, epsilon = 1e-9);
}

#[test]
fn what_cannot_be_looked_at_is_refused() {
    let tree = planar(0.0);
    let refused = |subject: Subject| Site::new(&tree, &subject, 10.0).unwrap_err();
    let branching_of = |branch: &str| Subject::Branching {
        branch: branch.to_owned(),
    };
    assert!(matches!(
        refused(branching_of("sode")),
        SiteError::UnknownBranch { .. }
    ));
    assert!(matches!(
        refused(branching_of("trunk")),
        SiteError::Inlet { .. }
    ));
    let off = Subject::Segment {
        branch: "side".to_owned(),
        from_mm: 20.0,
        to_mm: 40.0,
    };
    assert!(matches!(refused(off), SiteError::OffBranch { .. }));
    let near = c_arm(Some(20.0));
    let error = ViewMap::new(&branching(&tree), &near, 1).unwrap_err();
    assert!(matches!(error, ProjectionError::SourceInside { .. }));
}
