//! A permutation of the numbers below n that is computed, not stored.

/// Where `index` (below `count`) goes in the permutation of the numbers below `count` (at most
/// 2^32) with this key.
///
/// A chain of invertible steps on the next power of two, walked on until the result lies below
/// `count`: A. Kensler, *Correlated Multi-Jittered Sampling*, technical memo 13-01, 2013, the
/// function `permute`.
///
/// # Panics
///
/// Never; an `index` that is not below `count` comes back below it.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    reason = "designs have at most ten million points"
)]
pub fn permuted(index: usize, count: usize, key: u32) -> usize {
    let count = (count.max(1)).min(u32::MAX as usize) as u32;
    if count == 1 {
        return 0;
    }
    let mask = u32::MAX >> (count - 1).leading_zeros();
    let mut i = index as u32 % count;
    loop {
        i = step(i, key, mask);
        if i < count {
            return ((u64::from(i) + u64::from(key)) % u64::from(count)) as usize;
        }
    }
}

fn step(mut i: u32, key: u32, mask: u32) -> u32 {
    let shift = |i: u32, by: u32| (i & mask) >> by;
    i ^= key;
    i = i.wrapping_mul(0xe170_893d);
    i ^= key >> 16;
    i ^= shift(i, 4);
    i ^= key >> 8;
    i = i.wrapping_mul(0x0929_eb3f);
    i ^= key >> 23;
    i ^= shift(i, 1);
    i = i.wrapping_mul(1 | key >> 27);
    i = i.wrapping_mul(0x6935_fa69);
    i ^= shift(i, 11);
    i = i.wrapping_mul(0x74dc_b303);
    i ^= shift(i, 2);
    i = i.wrapping_mul(0x9e50_1cc3);
    i ^= shift(i, 2);
    i = i.wrapping_mul(0xc860_a3df);
    i &= mask;
    i ^ i >> 5
}

#[cfg(test)]
mod tests {
    use super::permuted;

    #[test]
    fn every_number_comes_once_whatever_the_key() {
        for count in [1_usize, 2, 3, 5, 8, 9, 100, 4097] {
            for key in [0, 1, 0xdead_beef] {
                let mut seen = vec![false; count];
                for index in 0..count {
                    let to = permuted(index, count, key);
                    assert!(!seen[to], "{count} {key}: {to} twice");
                    seen[to] = true;
                }
            }
        }
    }

    #[test]
    fn keys_give_different_orders() {
        let order = |key| (0..50).map(|i| permuted(i, 50, key)).collect::<Vec<_>>();
        assert_ne!(order(1), order(2));
        assert_ne!(order(1), (0..50).collect::<Vec<_>>());
    }
}
