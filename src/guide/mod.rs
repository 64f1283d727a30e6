#![doc = "[running]: crate::guide::running"]
#![doc = "[results]: crate::guide::results"]
#![doc = "[reached]: crate::guide::reached"]
#![doc = "[forces]: crate::guide::forces"]
#![doc = "[scenarios]: crate::guide::scenarios"]
#![doc = "[anatomy]: crate::guide::anatomy"]
#![doc = "[techniques]: crate::guide::techniques"]
#![doc = "[sharp turns]: crate::guide::sharp_turns"]
#![doc = "[support catheters]: crate::guide::support_catheters"]
#![doc = "[second lumen]: crate::guide::second_lumen"]
#![doc = "[views]: crate::guide::views"]
#![doc = "[bench]: crate::guide::bench"]
#![doc = "[sweeps]: crate::guide::sweeps"]
#![doc = "[limits]: crate::guide::limits"]
#![doc = "[trust]: crate::guide::trust"]
#![doc = "[schema]: crate::scenario"]
#![doc = include_str!("README.md")]

// The pages are Markdown that a code forge shows too. Link targets stand here first, because the first
// definition of a target wins: the documentation then leads to its own pages, a forge to the files.

/// Declares a page: its name, its file, and where its links lead within the documentation.
macro_rules! pages {
    ($($name:ident $file:literal [$($target:literal),*])*) => {
        $(
            $(#[doc = $target])*
            #[doc = include_str!($file)]
            pub mod $name {}
        )*
    };
}

pages! {
    running "running.md" ["[results]: super::results", "[sweeps]: super::sweeps", "[schema]: crate::scenario"]
    results "results.md" ["[reached]: super::reached", "[forces]: super::forces", "[limits]: super::limits"]
    reached "reached.md" ["[forces]: super::forces"]
    forces "forces.md" ["[reached]: super::reached", "[sweeps]: super::sweeps"]
    scenarios "scenarios.md" ["[schema]: crate::scenario", "[anatomy]: super::anatomy", "[sweeps]: super::sweeps"]
    anatomy "anatomy.md" ["[schema]: crate::scenario", "[limits]: super::limits"]
    techniques "techniques.md" ["[support catheters]: super::support_catheters", "[second lumen]: super::second_lumen", "[sharp turns]: super::sharp_turns", "[reached]: super::reached"]
    sharp_turns "sharp_turns.md" ["[techniques]: super::techniques", "[forces]: super::forces"]
    support_catheters "support_catheters.md" ["[techniques]: super::techniques", "[forces]: super::forces"]
    second_lumen "second_lumen.md" ["[techniques]: super::techniques"]
    views "views.md" ["[schema]: crate::scenario"]
    bench "bench.md" ["[schema]: crate::scenario"]
    sweeps "sweeps.md" ["[sweep schema]: crate::scenario::sweep", "[reached]: super::reached"]
    limits "limits.md" ["[trust]: super::trust"]
    trust "trust.md" ["[limits]: super::limits"]
}
