//! One harness of the fuzzer, chosen by the variable `HARNESS`.
#![no_main]

mod harness;

use std::sync::OnceLock;

use libfuzzer_sys::fuzz_target;

static CHOSEN: OnceLock<harness::Harness> = OnceLock::new();

fuzz_target!(|data: &[u8]| {
    let run = CHOSEN.get_or_init(|| {
        let name = std::env::var("HARNESS").unwrap_or_default();
        harness::named(&name).unwrap_or_else(|| {
            let known: Vec<&str> = harness::ALL.iter().map(|(name, _)| *name).collect();
            panic!("set HARNESS to one of {}", known.join(", "))
        })
    });
    run(data);
});
