//! Where the mouths of branches end, remembered for all trials that draw the same diameters.

use std::sync::{Mutex, PoisonError};

use rustc_hash::FxHashMap;

use crate::vessel::{Lumen, Tree};

/// Mouths that are remembered at most: half a megabyte.
const MOST: usize = 1 << 14;

/// The ends of the whole mouths in one scenario. A trial draws the same diameters whatever the strategy, so
/// each mouth is looked for once, not once for each strategy. What is remembered is what would be found
/// again, so that it changes nothing which thread comes first.
#[derive(Debug, Default)]
pub(super) struct Mouths {
    known: Mutex<FxHashMap<Key, f64>>,
}

/// The bits of the factor on all diameters, the branch, and whether the vessel gives way.
type Key = (u64, usize, bool);

impl Mouths {
    /// Station in mm at which the whole mouth of `branch` ends in `lumen`, the wall of this scenario with all
    /// diameters multiplied by `factor`.
    pub(super) fn whole_mm(
        &self,
        (tree, lumen): (&Tree, &dyn Lumen),
        factor: f64,
        branch: usize,
    ) -> f64 {
        let key = (factor.to_bits(), branch, lumen.giving().is_some());
        let known = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(whole_mm) = known().get(&key) {
            return *whole_mm;
        }
        // Not under the lock: other threads look for other mouths meanwhile.
        let whole_mm = tree.whole_mouth_mm(lumen, branch);
        let mut known = known();
        if known.len() < MOST {
            known.insert(key, whole_mm);
        }
        whole_mm
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::scenario::load;

    #[test]
    fn a_mouth_is_remembered_for_its_own_diameters() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
        let scenario = load(&folder.join("side-branch.toml")).expect("shipped");
        let tree = Tree::build(&scenario.scenario.vessel).expect("shipped");
        let wide = tree.with_diameter_factor(1.2);
        let mouths = Mouths::default();
        for _ in 0..2 {
            for (factor, tree) in [(1.0, &tree), (1.2, &wide)] {
                let whole_mm = mouths.whole_mm((tree, tree), factor, 1);
                assert_eq!(
                    whole_mm.to_bits(),
                    tree.whole_mouth_mm(tree, 1).to_bits(),
                    "factor {factor}"
                );
            }
        }
        assert_eq!(mouths.known.lock().expect("not poisoned").len(), 2);
    }
}
