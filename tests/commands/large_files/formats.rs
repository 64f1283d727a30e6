//! The formats of anatomy, written.

use std::fmt::Write as _;
use std::io::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use super::lines::Lines;
use super::solids::Solid;

pub fn stl(solid: &Solid) -> Vec<u8> {
    let mut out = vec![0; 80];
    out.extend((solid.faces.len() as u32).to_le_bytes());
    for face in &solid.faces {
        out.extend([0; 12]);
        for i in face {
            out.extend(
                solid.points[*i as usize]
                    .iter()
                    .flat_map(|x| (*x as f32).to_le_bytes()),
            );
        }
        out.extend([0; 2]);
    }
    out
}

pub fn stl_text(solid: &Solid) -> Vec<u8> {
    let mut out = String::from("solid a\n");
    for face in &solid.faces {
        out += "facet normal 0 0 0\nouter loop\n";
        for i in face {
            let [x, y, z] = solid.points[*i as usize];
            let _ = writeln!(out, "vertex {x:.5} {y:.5} {z:.5}");
        }
        out += "endloop\nendfacet\n";
    }
    (out + "endsolid a\n").into()
}

pub fn obj(solid: &Solid) -> Vec<u8> {
    let mut out = String::new();
    for [x, y, z] in &solid.points {
        let _ = writeln!(out, "v {x:.4} {y:.4} {z:.4}");
    }
    for face in &solid.faces {
        let [a, b, c] = face.map(|i| i + 1);
        let _ = writeln!(out, "f {a} {b} {c}");
    }
    out.into()
}

pub fn ply(solid: &Solid) -> Vec<u8> {
    let mut out = ply_head("binary_little_endian", "double", solid).into_bytes();
    for p in &solid.points {
        out.extend(p.iter().flat_map(|x| x.to_le_bytes()));
    }
    for face in &solid.faces {
        out.push(3);
        out.extend(face.iter().flat_map(|i| i.to_le_bytes()));
    }
    out
}

pub fn ply_text(solid: &Solid) -> Vec<u8> {
    let mut out = ply_head("ascii", "float", solid);
    for [x, y, z] in &solid.points {
        let _ = writeln!(out, "{x:.4} {y:.4} {z:.4}");
    }
    for [a, b, c] in &solid.faces {
        let _ = writeln!(out, "3 {a} {b} {c}");
    }
    out.into()
}

fn ply_head(format: &str, number: &str, solid: &Solid) -> String {
    format!(
        "ply\nformat {format} 1.0\nelement vertex {}\nproperty {number} x\nproperty {number} y\n\
         property {number} z\nelement face {}\nproperty list uchar int vertex_indices\nend_header\n",
        solid.points.len(),
        solid.faces.len()
    )
}

/// Numbers of a VTK XML file in base64, packed by zlib if wanted.
fn packed(bytes: &[u8], zlib: bool) -> String {
    let head = |words: &[u32]| {
        words
            .iter()
            .flat_map(|w| w.to_le_bytes())
            .collect::<Vec<u8>>()
    };
    if !zlib {
        return STANDARD.encode([head(&[bytes.len() as u32]), bytes.to_vec()].concat());
    }
    let block = 1 << 16;
    let squeezed: Vec<Vec<u8>> = bytes
        .chunks(block)
        .map(|chunk| {
            let mut encoder =
                flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
            encoder.write_all(chunk).unwrap();
            encoder.finish().unwrap()
        })
        .collect();
    let mut words = vec![
        squeezed.len() as u32,
        block as u32,
        (bytes.len() % block) as u32,
    ];
    words.extend(squeezed.iter().map(|s| s.len() as u32));
    STANDARD.encode(head(&words)) + &STANDARD.encode(squeezed.concat())
}

fn array(kind: &str, name: &str, parts: u32, bytes: &[u8], zlib: bool) -> String {
    format!(
        "<DataArray type=\"{kind}\" Name=\"{name}\" NumberOfComponents=\"{parts}\" format=\"binary\">{}</DataArray>\n",
        packed(bytes, zlib)
    )
}

/// A VTK XML file with cells of the tag `cells` ("Lines" or "Polys").
fn vtp(points: &[[f64; 3]], radii: &[f64], cells: &str, ids: &[&[u32]], zlib: bool) -> Vec<u8> {
    let zipped = if zlib {
        " compressor=\"vtkZLibDataCompressor\""
    } else {
        ""
    };
    let mut out = format!(
        "<VTKFile type=\"PolyData\" version=\"0.1\" byte_order=\"LittleEndian\" header_type=\"UInt32\"{zipped}>\n\
         <PolyData><Piece NumberOfPoints=\"{}\" NumberOf{cells}=\"{}\">\n<Points>",
        points.len(),
        ids.len()
    );
    let floats = |all: &mut dyn Iterator<Item = f64>| -> Vec<u8> {
        all.flat_map(|x| (x as f32).to_le_bytes()).collect()
    };
    let whole = |all: &mut dyn Iterator<Item = usize>| -> Vec<u8> {
        all.flat_map(|x| (x as i32).to_le_bytes()).collect()
    };
    let places = floats(&mut points.iter().flatten().copied());
    out += &array("Float32", "Points", 3, &places, zlib);
    out += "</Points><PointData>";
    if !radii.is_empty() {
        out += &array(
            "Float32",
            "Radius",
            1,
            &floats(&mut radii.iter().copied()),
            zlib,
        );
    }
    let _ = write!(out, "</PointData><{cells}>");
    let all = whole(&mut ids.iter().flat_map(|c| c.iter().map(|i| *i as usize)));
    out += &array("Int32", "connectivity", 1, &all, zlib);
    let mut sum = 0;
    let ends = whole(&mut ids.iter().map(|c| {
        sum += c.len();
        sum
    }));
    out += &array("Int32", "offsets", 1, &ends, zlib);
    let _ = writeln!(out, "</{cells}></Piece></PolyData></VTKFile>");
    out.into()
}

pub fn vtp_surface(solid: &Solid) -> Vec<u8> {
    let ids: Vec<&[u32]> = solid.faces.iter().map(|f| &f[..]).collect();
    vtp(&solid.points, &[], "Polys", &ids, true)
}

pub fn vtp_lines(lines: &Lines, zlib: bool) -> Vec<u8> {
    let ids: Vec<&[u32]> = lines.lines.iter().map(|f| &f[..]).collect();
    vtp(&lines.points, &lines.radii, "Lines", &ids, zlib)
}

/// An old VTK file, as text or in bytes.
pub fn vtk(points: &[[f64; 3]], radii: &[f64], cells: &str, ids: &[&[u32]], text: bool) -> Vec<u8> {
    let mut out = Vec::new();
    let kind = if text { "ASCII" } else { "BINARY" };
    let say = |out: &mut Vec<u8>, words: String| out.extend(words.into_bytes());
    let numbers = |out: &mut Vec<u8>, all: &[f64]| {
        for x in all {
            if text {
                say(out, format!("{x:.4} "));
            } else {
                out.extend((*x as f32).to_be_bytes());
            }
        }
        out.push(b'\n');
    };
    say(
        &mut out,
        format!(
            "# vtk DataFile Version 3.0\na\n{kind}\nDATASET POLYDATA\nPOINTS {} float\n",
            points.len()
        ),
    );
    numbers(&mut out, points.as_flattened());
    let entries: usize = ids.iter().map(|c| c.len() + 1).sum();
    say(&mut out, format!("{cells} {} {entries}\n", ids.len()));
    for cell in ids {
        let counted = std::iter::once(cell.len() as u32).chain(cell.iter().copied());
        for i in counted {
            if text {
                say(&mut out, format!("{i} "));
            } else {
                out.extend((i as i32).to_be_bytes());
            }
        }
    }
    if !radii.is_empty() {
        say(
            &mut out,
            format!(
                "\nPOINT_DATA {}\nSCALARS radius float 1\nLOOKUP_TABLE default\n",
                radii.len()
            ),
        );
        numbers(&mut out, radii);
    }
    out
}

pub fn vtk_surface(solid: &Solid, text: bool) -> Vec<u8> {
    let ids: Vec<&[u32]> = solid.faces.iter().map(|f| &f[..]).collect();
    vtk(&solid.points, &[], "POLYGONS", &ids, text)
}

pub fn vtk_lines(lines: &Lines, text: bool) -> Vec<u8> {
    let ids: Vec<&[u32]> = lines.lines.iter().map(|f| &f[..]).collect();
    vtk(&lines.points, &lines.radii, "LINES", &ids, text)
}

pub fn csv(lines: &Lines) -> Vec<u8> {
    let mut out = String::from("branch,x,y,z,r\n");
    for (number, line) in lines.lines.iter().enumerate() {
        for i in line {
            let [x, y, z] = lines.points[*i as usize];
            let _ = writeln!(
                out,
                "{number},{x:.3},{y:.3},{z:.3},{:.2}",
                lines.radii[*i as usize]
            );
        }
    }
    out.into()
}

/// Each point with the one before it on its line as parent.
pub fn swc(lines: &Lines) -> Vec<u8> {
    let mut parent = vec![-1_i64; lines.points.len()];
    for line in &lines.lines {
        for pair in line.windows(2) {
            parent[pair[1] as usize] = i64::from(pair[0]) + 1;
        }
    }
    let mut out = String::new();
    for (i, [x, y, z]) in lines.points.iter().enumerate() {
        let r = lines.radii[i];
        let _ = writeln!(out, "{} 0 {x:.2} {y:.2} {z:.2} {r:.2} {}", i + 1, parent[i]);
    }
    out.into()
}
