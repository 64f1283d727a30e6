#![doc = "[running]: crate::guide::running"]
#![doc = "[results]: crate::guide::results"]
#![doc = "[report page]: crate::guide::report_page"]
#![doc = "[reached]: crate::guide::reached"]
#![doc = "[forces]: crate::guide::forces"]
#![doc = "[scenarios]: crate::guide::scenarios"]
#![doc = "[anatomy]: crate::guide::anatomy"]
#![doc = "[techniques]: crate::guide::techniques"]
#![doc = "[by hand]: crate::guide::by_hand"]
#![doc = "[lessons]: crate::guide::lessons"]
#![doc = "[sharp turns]: crate::guide::sharp_turns"]
#![doc = "[support catheters]: crate::guide::support_catheters"]
#![doc = "[second lumen]: crate::guide::second_lumen"]
#![doc = "[views]: crate::guide::views"]
#![doc = "[bench]: crate::guide::bench"]
#![doc = "[sweeps]: crate::guide::sweeps"]
#![doc = "[cluster]: crate::guide::cluster"]
#![doc = "[giving way]: crate::guide::giving"]
#![doc = "[beating]: crate::guide::beating"]
#![doc = "[limits]: crate::guide::limits"]
#![doc = "[trust]: crate::guide::trust"]
#![doc = "[evidence]: crate::guide::evidence"]
#![doc = include_str!("README.md")]
#![allow(
    clippy::doc_markdown,
    reason = "names of vessels and of journals are no code"
)]

// The pages are Markdown that a code forge shows too. Link targets stand here first, because the first
// definition of a target wins: the documentation then leads to its own pages, a forge to the files.
// Figures are found from `target/doc` in the repository.

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
    running "running.md" ["[results]: crate::guide::results", "[sweeps]: crate::guide::sweeps"]
    results "results.md" ["[report page]: crate::guide::report_page", "[reached]: crate::guide::reached", "[forces]: crate::guide::forces", "[limits]: crate::guide::limits", "[figure rates]: ../../../../../figures/published-tree-m1-success-rate.png", "[figure scene]: ../../../../../figures/published-tree-m1-scene.png"]
    report_page "report_page.md" ["[limits]: crate::guide::limits"]
    reached "reached.md" ["[forces]: crate::guide::forces", "[figure]: ../../../../../figures/backward-branch-reached.png"]
    forces "forces.md" ["[reached]: crate::guide::reached", "[sweeps]: crate::guide::sweeps"]
    scenarios "scenarios.md" ["[anatomy]: crate::guide::anatomy", "[sweeps]: crate::guide::sweeps", "[lessons]: crate::guide::lessons"]
    anatomy "anatomy.md" ["[limits]: crate::guide::limits"]
    techniques "techniques.md" ["[by hand]: crate::guide::by_hand", "[support catheters]: crate::guide::support_catheters", "[second lumen]: crate::guide::second_lumen", "[sharp turns]: crate::guide::sharp_turns", "[reached]: crate::guide::reached", "[figure film]: ../../../../../figures/backward-branch-film-looped-back.png", "[figure comparison]: ../../../../../figures/angle-phantom-comparison.png"]
    by_hand "by_hand.md" []
    lessons "lessons.md" ["[report page]: crate::guide::report_page", "[by hand]: crate::guide::by_hand", "[sweeps]: crate::guide::sweeps"]
    sharp_turns "sharp_turns.md" ["[techniques]: crate::guide::techniques", "[forces]: crate::guide::forces"]
    support_catheters "support_catheters.md" ["[techniques]: crate::guide::techniques", "[forces]: crate::guide::forces"]
    second_lumen "second_lumen.md" ["[techniques]: crate::guide::techniques", "[figure]: ../../../../../figures/dual-lumen-film-loop.png"]
    views "views.md" ["[figure]: ../../../../../figures/published-tree-m1-seen.png"]
    bench "bench.md" ["[figure]: ../../../../../figures/wires-torque.png"]
    sweeps "sweeps.md" ["[reached]: crate::guide::reached", "[cluster]: crate::guide::cluster"]
    cluster "cluster.md" []
    giving "giving.md" ["[trust]: crate::guide::trust", "[beating]: crate::guide::beating"]
    beating "beating.md" ["[giving way]: crate::guide::giving", "[views]: crate::guide::views"]
    limits "limits.md" ["[trust]: crate::guide::trust", "[giving way]: crate::guide::giving", "[beating]: crate::guide::beating"]
    trust "trust.md" ["[limits]: crate::guide::limits", "[evidence]: crate::guide::evidence"]
    evidence "evidence.md" ["[limits]: crate::guide::limits"]
}
