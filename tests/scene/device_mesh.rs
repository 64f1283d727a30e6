//! Is the mesh of a wire fine where the wire is shaped, smooth behind, and halved with its edge?

use approx::assert_relative_eq;
use bendwise::device::{Wire, mesh};
use bendwise::scenario::model::{BendSpec, CoreLawSpec, Place, StiffnessSpec, TipSpec, WireSpec};

const LENGTHS_MM: [f64; 4] = [2.0, 12.0, 60.0, 183.7];

fn wire() -> Wire {
    bent(None)
}

/// The same folded back on itself, 20 to 26 mm behind the tip.
fn folded() -> Wire {
    bent(Some(BendSpec {
        from_tip_mm: 20.0,
        length_mm: 6.0,
        angle_rad: 2.6,
        plane_rad: 0.0,
    }))
}

fn bent(secondary: Option<BendSpec>) -> Wire {
    Wire::from_spec(&WireSpec {
        name: "meshed".to_owned(),
        diameter_mm: 0.36,
        stiffness: StiffnessSpec::List {
            values: vec![(0.0, 50.0)],
            modulus_mn_per_mm2: 200e6,
        },
        torsion_ratio: 0.77,
        friction: 0.0,
        tip: TipSpec {
            primary: Some(BendSpec {
                from_tip_mm: 0.0,
                length_mm: 4.0,
                angle_rad: 1.0,
                plane_rad: 0.0,
            }),
            secondary,
        },
        strain_limit: 0.01,
        core_law: CoreLawSpec::Elastic,
        place: Place::default(),
    })
    .expect("a valid wire")
}

fn edges(stations: &[f64]) -> Vec<f64> {
    stations.windows(2).map(|pair| pair[1] - pair[0]).collect()
}

#[test]
fn a_mesh_runs_from_the_tip_to_the_length_asked_for() {
    for edge in [0.05, 0.2, 0.25, 0.5, 1.0, 3.0] {
        for length in LENGTHS_MM {
            let stations = mesh(&wire(), edge, length);
            assert!(stations[0].abs() < f64::MIN_POSITIVE);
            assert_relative_eq!(*stations.last().expect("a node"), length);
            assert!(edges(&stations).iter().all(|&e| e > 0.0));
        }
    }
}

#[test]
fn edges_are_fine_through_the_tip_and_grow_by_at_most_15_percent() {
    for edge in [0.05, 0.1, 0.25, 0.5, 0.7] {
        for length in LENGTHS_MM {
            let stations = mesh(&wire(), edge, length);
            let all = edges(&stations);
            let largest = (2.0 * edge).min(0.5_f64.max(edge)) * (1.0 + 1e-9);
            assert!(all.iter().all(|&e| e <= largest));
            // Bend of 4 mm and 2 mm behind it.
            for (e, pair) in all.iter().zip(stations.windows(2)) {
                assert!(
                    pair[1] > 6.0 || *e <= edge * (1.0 + 1e-9),
                    "edge {e} at {pair:?}"
                );
            }
            for pair in all.windows(2) {
                assert!(pair[1] / pair[0] <= 1.15 && pair[1] >= pair[0] * (1.0 - 1e-9));
            }
        }
    }
}

/// Fine at both bends and 2 mm beside them, coarse between, and smooth all the way.
#[test]
fn a_straight_part_between_two_bends_is_coarse() {
    for edge in [0.05, 0.1, 0.25] {
        let stations = mesh(&folded(), edge, 80.0);
        let all = edges(&stations);
        for (e, pair) in all.iter().zip(stations.windows(2)) {
            let is_fine = pair[1] <= 6.0 || (pair[0] >= 18.0 && pair[1] <= 28.0);
            assert!(
                !is_fine || *e <= edge * (1.0 + 1e-9),
                "edge {e} at {pair:?}"
            );
            let is_between = pair[0] >= 11.5 && pair[1] <= 12.5;
            assert!(!is_between || *e > 1.5 * edge, "edge {e} at {pair:?}");
        }
        for pair in all.windows(2) {
            assert!((1.0 / 1.15..=1.15).contains(&(pair[1] / pair[0])));
        }
        let half = mesh(&folded(), edge / 2.0, 80.0);
        for (node, station) in stations.iter().enumerate() {
            assert_relative_eq!(half[2 * node], *station, epsilon = 1e-9);
        }
    }
}

#[test]
fn half_the_edge_keeps_every_node_and_halves_every_edge() {
    for edge in [0.25, 0.2, 0.13] {
        for length in LENGTHS_MM {
            let coarse = mesh(&wire(), edge, length);
            let fine = mesh(&wire(), edge / 2.0, length);
            assert_eq!(fine.len(), 2 * coarse.len() - 1);
            for (node, station) in coarse.iter().enumerate() {
                assert_relative_eq!(fine[2 * node], *station, epsilon = 1e-9);
            }
        }
    }
}

#[test]
fn the_usual_mesh_is_close_to_the_edge_asked_for() {
    let stations = mesh(&wire(), 0.25, 150.0);
    assert!(edges(&stations)[0] > 0.245, "{}", edges(&stations)[0]);
    // 150 mm in edges of 0.5 mm, and the finer ones at the tip.
    assert!(stations.len() < 330, "{} nodes", stations.len());
}
