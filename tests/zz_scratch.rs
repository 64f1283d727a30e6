use bendwise::anatomy::tree::Settings;
use bendwise::anatomy::{Frame, Unit, import};
#[test]
fn look() {
    let file = std::env::var("LOOK").unwrap();
    let t = std::time::Instant::now();
    let s = Settings {
        units: Some(Unit::Millimetre),
        frame: Some(Frame::Scene),
        ..Settings::default()
    };
    match import(std::path::Path::new(&file), &s) {
        Ok((i, _)) => {
            println!("took {:?}", t.elapsed());
            for l in i.changes.lines() {
                println!("{l:?}");
            }
            for b in &i.branches {
                let len: f64 = b.points.windows(2).map(|p| (p[1] - p[0]).norm()).sum();
                println!(
                    "{:20} parent {:?} len {:.1} r {:.2}..{:.2} start {:.1?} end {:.1?}",
                    b.name,
                    b.parent,
                    len,
                    b.radii[0],
                    b.radii[b.radii.len() - 1],
                    b.points[0].as_slice(),
                    b.points[b.points.len() - 1].as_slice()
                );
            }
        }
        Err(e) => println!("{e}"),
    }
}
