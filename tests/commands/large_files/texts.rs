//! Scenarios, sweeps and tables of megabytes.

use std::fmt::Write as _;

use super::Case;

const SMALL: &str = include_str!("../../../scenarios/side-branch.toml");
const PARENT: &str = "diameter_mm = 3.0\npieces = [{ shape = \"straight\", length_mm = 60 }]";

fn replaced(from: &str, to: &str) -> String {
    assert!(SMALL.contains(from), "{from}");
    SMALL.replacen(from, to, 1)
}

fn list(count: usize, item: impl Fn(usize) -> String) -> String {
    let items: Vec<String> = (0..count).map(item).collect();
    format!("[{}]", items.join(","))
}

fn tables(count: usize, item: impl Fn(usize) -> String) -> String {
    (0..count).map(|i| item(i) + "\n").collect()
}

/// Branches on a long parent.
fn many_branches(count: usize, bed: &str) -> String {
    let sides = tables(count, |i| {
        format!(
            "[[vessel.branch]]\nname = \"b{i}\"\nparent = \"parent\"\nat_mm = {}\ntake_off_deg = 60\n\
             plane_deg = {}\ndiameter_mm = 1\npieces = [{{ shape = \"arc\", radius_mm = 8, angle_deg = 90 }}]",
            61 + 4 * i,
            i * 37 % 360
        )
    });
    let longer = format!(
        "diameter_mm = 3.0\npieces = [{{ shape = \"straight\", length_mm = {} }}]",
        70 + 4 * count
    );
    replaced(PARENT, &longer).replacen("\n[guide]", &format!("\n{sides}\n{bed}\n[guide]"), 1)
}

fn sweep(parameters: &str, design: &str) -> Vec<(String, Vec<u8>)> {
    let text = format!(
        "name = \"s\"\ndescription = \"s\"\nscenario = \"base.toml\"\n[design]\n{design}\n{parameters}"
    );
    vec![
        ("base.toml".into(), SMALL.into()),
        ("a.toml".into(), text.into()),
    ]
}

fn levels(path: &str, count: usize, low: f64, by: f64) -> String {
    let all = list(count, |i| format!("{:.6}", low + by * i as f64));
    format!("[[parameter]]\npath = \"{path}\"\nlevels = {all}\n")
}

pub fn cases() -> Vec<Case> {
    let mut out = Vec::new();
    let mut text = |name: &'static str, make: fn() -> String| {
        out.push(Case::new(name, "a.toml", move || {
            vec![("a.toml".into(), make().into_bytes())]
        }));
    };
    text("2400 branches", || many_branches(2400, ""));
    text("2400 branches in a bed", || {
        many_branches(2400, "[vessel.bed]\ntissue = \"fat\"\n")
    });
    text("one branch of 10 m in a bed", || {
        replaced(
            PARENT,
            "diameter_mm = 3.0\npieces = [{ shape = \"straight\", length_mm = 10000 }]",
        )
        .replacen("\n[guide]", "\n[vessel.bed]\ntissue = \"fat\"\n[guide]", 1)
    });
    text("49000 pieces", || {
        let piece = |i: usize| {
            let shape = if i.is_multiple_of(2) {
                "angle_deg = 9"
            } else {
                "angle_deg = -9"
            };
            format!("{{shape=\"arc\",radius_mm=5,{shape}}}")
        };
        replaced(
            PARENT,
            &format!("diameter_mm = 3.0\npieces = {}", list(49_000, piece)),
        )
    });
    text("130000 points of a branch", || {
        let place = |i: usize| {
            let x = 0.05 * i as f64;
            format!("[{x:.2},{:.3},0]", 9.0 * (0.02 * x).sin())
        };
        replaced(
            PARENT,
            &format!("diameter_mm = 3.0\npoints_mm = {}", list(130_000, place)),
        )
    });
    text("points of a branch in one place", || {
        let all = list(130_000, |_| "[1,2,3]".into());
        replaced(PARENT, &format!("diameter_mm = 3.0\npoints_mm = {all}"))
    });
    text("150000 diameters", || {
        let all = list(150_000, |i| {
            format!("[{:.4},{}]", 0.0002 * i as f64, 3 - i % 2)
        });
        replaced("diameter_mm = 3.0", &format!("diameters_mm = {all}"))
    });
    text("2400 narrowings in one place", || {
        let all = tables(2400, |_| {
            "[[vessel.narrowing]]\nbranch = \"parent\"\nat_mm = 20\nlength_mm = 5\ndiameter_mm = 2.9".into()
        });
        replaced("[guide]", &format!("{all}[guide]"))
    });
    text("2400 obstacles", || {
        let all = tables(2400, |i| {
            format!(
                "[[vessel.obstacle]]\nbranch = \"parent\"\nat_mm = {}\ndiameter_mm = 0.5\nlength_mm = 1",
                0.5 + 0.02 * i as f64
            )
        });
        replaced("[guide]", &format!("{all}[guide]"))
    });
    text("150000 knots of a core", || {
        let all = list(150_000, |i| {
            format!("[{:.4},{:.6}]", 0.001 * i as f64, 0.06 + 2e-7 * i as f64)
        });
        replaced("[[20, 0.06], [100, 0.12], [250, 0.18]]", &all)
    });
    text("500 wires and 2400 techniques", || {
        let wires = tables(497, |i| {
            format!(
                "[[wire]]\nname = \"w{i}\"\ndiameter_mm = 0.3556\ntip_load_gf = 1.0\n\
                 core_mm = [[20, 0.07], [100, 0.13], [250, 0.18]]\nfriction = 0.1\n"
            )
        });
        let plans = tables(2400, |i| {
            format!("[[technique]]\nkind = \"push\"\nname = \"p{i}\"")
        });
        replaced("[[technique]]\nkind = \"push\"", &format!("{wires}{plans}"))
    });
    text("2400 techniques", || {
        let plans = tables(2400, |i| {
            format!("[[technique]]\nkind = \"redirect\"\nname = \"p{i}\"")
        });
        replaced("[[technique]]\nkind = \"push\"", &plans)
    });
    text("a description of 16 MB", || {
        replaced(
            "description = \"",
            &format!("description = \"{}", "word".repeat(4_000_000)),
        )
    });
    text("700000 comments", || {
        format!("{}{SMALL}", "#acomment\n".repeat(700_000))
    });
    text("a field misspelt by megabytes", || {
        replaced(
            "trials = 32",
            &format!("{} = 32", "trial".repeat(3_000_000)),
        )
    });
    text("tables within tables", || {
        format!("{SMALL}\n[{}a]\n", "a.".repeat(700_000))
    });
    text("lists within lists", || {
        format!("{SMALL}\na = {}", "[".repeat(700_000))
    });
    text("250000 fields nobody knows", || {
        format!(
            "{SMALL}\n[other]\n{}",
            tables(250_000, |i| format!("a{i} = {i}"))
        )
    });
    text("a number of megabytes", || {
        replaced(
            "trials = 32",
            &format!("trials = {}", "9".repeat(15_000_000)),
        )
    });
    text("an assay at many stations", || {
        let wires = SMALL
            .split_once("[[wire]]")
            .unwrap()
            .1
            .split_once("[[technique]]")
            .unwrap()
            .0;
        format!(
            "name = \"b\"\n[assay.three_point]\nstations_mm = {}\n[[wire]]{wires}",
            list(300_000, |i| format!("{:.4}", 20.0 + 0.0005 * i as f64))
        )
    });
    let mut swept = |name: &'static str, make: fn() -> Vec<(String, Vec<u8>)>| {
        out.push(Case::new(name, "a.toml", make));
    };
    swept("a sweep of 390000 levels", || {
        sweep(
            &levels("wire.1.tip_load_gf", 390_000, 0.5, 1e-6),
            "kind = \"grid\"\ntrials = 1",
        )
    });
    swept("a sweep of 100 times 100 times 100 levels", || {
        let all = [1, 2, 3]
            .map(|wire| format!("wire.{wire}.tip_load_gf"))
            .map(|path| levels(&path, 100, 0.5, 1e-2))
            .concat();
        sweep(&all, "kind = \"grid\"\ntrials = 1")
    });
    swept("a sweep of 2400 parameters", || {
        let all = tables(2400, |i| {
            format!(
                "[[parameter]]\npath = \"wire.{}.tip_load_gf\"\nname = \"p{i}\"\nlow = 0.5\nhigh = 1",
                1 + i % 3
            )
        });
        sweep(
            &all,
            "kind = \"latin-hypercube\"\npoints = 1000000\ntrials = 1",
        )
    });
    swept("a sweep of a million drawn points", || {
        let all = "[[parameter]]\npath = \"wire.1.tip_load_gf\"\nlow = 0.5\nhigh = 1\n";
        sweep(
            all,
            "kind = \"latin-hypercube\"\npoints = 1000000\ntrials = 1",
        )
    });
    swept("a sweep with 2400 things set", || {
        let all = tables(2400, |i| {
            format!(
                "[[set]]\npath = \"wire.{}.tip_load_gf\"\nvalue = 1",
                1 + i % 3
            )
        });
        sweep(
            &(all + &levels("wire.1.tip_load_gf", 3, 0.5, 0.1)),
            "kind = \"grid\"\ntrials = 1",
        )
    });
    swept("a sweep over a base of 2400 branches", || {
        let mut files = sweep(
            &levels("wire.1.tip_load_gf", 1000, 0.5, 1e-4),
            "kind = \"grid\"\ntrials = 1",
        );
        files[0].1 = many_branches(2400, "").into_bytes();
        files
    });
    swept("a sweep that draws the places of 2400 points", || {
        let mut files = sweep(
            &levels("wire.1.tip_load_gf", 3, 0.5, 1e-2),
            "kind = \"grid\"\ntrials = 1\n[anatomy.spread]\nfile = \"spread.toml\"",
        );
        let mut places = String::from("origin = \"invented\"\n");
        for i in 0..2400 {
            let _ = writeln!(
                places,
                "[[place]]\nname = \"p{i}\"\nat = [{i}, 0, 0]\nsd = [1, 1, 1]"
            );
        }
        files.push(("spread.toml".into(), places.into_bytes()));
        files
    });
    swept("a fit to a curve of 16 MB", || {
        let wires = SMALL
            .split_once("[[wire]]")
            .unwrap()
            .1
            .split_once("[[technique]]")
            .unwrap()
            .0;
        let text = format!(
            "name = \"b\"\n[[assay.fit]]\nname = \"f\"\nwire = \"soft 0.3 gf\"\ncurve = \"c.csv\"\n\
             test = \"three-point\"\nknots_mm = [20, 60]\n[[wire]]{wires}"
        );
        let mut curve = String::from("station_mm,deflection_mm,load_mN\n");
        for i in 0..800_000 {
            let _ = writeln!(
                curve,
                "40,{:.6},{:.4}",
                1e-6 * f64::from(i),
                2e-5 * f64::from(i)
            );
        }
        vec![
            ("a.toml".into(), text.into()),
            ("c.csv".into(), curve.into()),
        ]
    });
    swept("a file of names of 16 MB", || {
        let (before, behind) = SMALL.split_once("[vessel]").unwrap();
        let behind = behind.split_once("[guide]").unwrap().1;
        let text = format!(
            "{before}[vessel]\nfile = \"t.csv\"\nunits = \"mm\"\nframe = \"scene\"\n\
             names_file = \"names.csv\"\n[guide]{behind}"
        );
        let text = text
            .replace("\"parent\"", "\"a\"")
            .replace("\"side\"", "\"b\"");
        let names = tables(850_000, |i| format!("n{i},{i},0,0"));
        let tree = "branch,x,y,z,r\na,0,0,0,2\na,30,0,0,2\nb,15,0,0,1\nb,15,20,0,1\n";
        vec![
            ("a.toml".into(), text.into()),
            ("t.csv".into(), tree.into()),
            ("names.csv".into(), format!("name,x,y,z\n{names}").into()),
        ]
    });
    out
}
