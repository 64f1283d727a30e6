//! Damage that knows the formats: what surrounds the damaged place stays sound, so that the
//! reader goes on to it. Numbers in text become other numbers, attributes other values; binary
//! blocks are unpacked, changed and packed again, with headers that fit or nearly fit.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::ZlibEncoder;
use std::io::Write as _;

use super::damage::Draw;

/// Numbers that are allowed in some places and wrong in others.
const NUMBERS: [&str; 22] = [
    "0",
    "1",
    "2",
    "3",
    "-1",
    "-0",
    "16",
    "17",
    "255",
    "65536",
    "1000000",
    "2999999",
    "3000001",
    "2147483648",
    "0.5",
    "1e-300",
    "1e9",
    "-1e30",
    "1e308",
    "nan",
    "inf",
    "-inf",
];

/// Attributes of VTK XML and values that they may have.
const ATTRIBUTES: [(&str, &[&str]); 14] = [
    (
        "type=\"",
        &[
            "Float32",
            "Float64",
            "Int8",
            "UInt8",
            "Int16",
            "Int32",
            "UInt32",
            "Int64",
            "UInt64",
            "String",
            "PolyData",
            "UnstructuredGrid",
            "Bit",
        ],
    ),
    ("format=\"", &["ascii", "binary", "appended", "raw", ""]),
    ("encoding=\"", &["raw", "base64", ""]),
    ("header_type=\"", &["UInt32", "UInt64"]),
    ("byte_order=\"", &["LittleEndian", "BigEndian"]),
    (
        "compressor=\"",
        &["vtkZLibDataCompressor", "vtkLZ4DataCompressor", ""],
    ),
    ("NumberOfPoints=\"", &NUMBERS),
    ("NumberOfLines=\"", &NUMBERS),
    ("NumberOfPolys=\"", &NUMBERS),
    (
        "NumberOfComponents=\"",
        &["0", "1", "2", "3", "9", "-1", "4000000000"],
    ),
    ("NumberOfTuples=\"", &NUMBERS),
    (
        "offset=\"",
        &[
            "0",
            "1",
            "4",
            "8",
            "64",
            "100",
            "500",
            "99999",
            "18446744073709551615",
            "-1",
        ],
    ),
    (
        "Name=\"",
        &[
            "connectivity",
            "offsets",
            "types",
            "name",
            "Points",
            "radius",
            "diameter",
            "MaximumInscribedSphereRadius",
            "space",
            "",
        ],
    ),
    (
        "<",
        &[
            "Lines>",
            "Polys>",
            "Verts>",
            "Strips>",
            "PointData>",
            "CellData>",
            "Points>",
        ],
    ),
];

/// One to three changes that keep the rest of the file sound.
pub fn damage(draw: &mut Draw, ending: &str, bytes: &mut Vec<u8>) {
    for _ in 0..=draw.below(2) {
        match (ending, draw.below(4)) {
            ("vtp", 0) => attribute(draw, bytes),
            ("vtp", 1) => block(draw, bytes),
            ("stl" | "ply" | "vtk" | "vtp", 2) => binary_number(draw, bytes),
            (_, 3) => line(draw, bytes),
            _ => number(draw, bytes),
        }
    }
}

fn find(bytes: &[u8], from: usize, what: &[u8]) -> Option<usize> {
    let rest = bytes.get(from..)?;
    rest.windows(what.len())
        .position(|w| w == what)
        .map(|i| from + i)
}

/// All places of a piece of text.
fn places(bytes: &[u8], what: &[u8]) -> Vec<usize> {
    let mut all = Vec::new();
    let mut from = 0;
    while let Some(at) = find(bytes, from, what) {
        all.push(at + what.len());
        from = at + 1;
    }
    all
}

/// An attribute gets another value.
fn attribute(draw: &mut Draw, bytes: &mut Vec<u8>) {
    let (name, values) = draw.of(&ATTRIBUTES);
    let all = places(bytes, name.as_bytes());
    if all.is_empty() {
        return;
    }
    let from = draw.of(&all);
    let stop = if name == "<" { b'>' } else { b'"' };
    let Some(length) = bytes[from..].iter().position(|b| *b == stop) else {
        return;
    };
    let to = from + length + usize::from(name == "<");
    bytes.splice(from..to, draw.of(values).bytes());
}

/// A whole number or a decimal one in the text becomes another number.
fn number(draw: &mut Draw, bytes: &mut Vec<u8>) {
    let at = draw.below(bytes.len());
    let is_part = |b: &u8| b.is_ascii_digit() || b".-+eE".contains(b);
    let Some(from) = (at..bytes.len()).find(|i| bytes[*i].is_ascii_digit()) else {
        return;
    };
    let from = from
        - bytes[..from]
            .iter()
            .rev()
            .take_while(|b| is_part(b))
            .count();
    let length = bytes[from..].iter().take_while(|b| is_part(b)).count();
    bytes.splice(from..from + length, draw.of(&NUMBERS).bytes());
}

/// A line of text is left out, doubled, or moved.
fn line(draw: &mut Draw, bytes: &mut Vec<u8>) {
    let mut lines: Vec<Vec<u8>> = bytes.split(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
    let (a, b) = (draw.below(lines.len()), draw.below(lines.len()));
    match draw.below(3) {
        0 => drop(lines.remove(a)),
        1 => lines.insert(b, lines[a].clone()),
        _ => lines.swap(a, b),
    }
    *bytes = lines.join(&b'\n');
}

/// Four or eight bytes somewhere become a number that is odd as a count, an index or a length.
fn binary_number(draw: &mut Draw, bytes: &mut [u8]) {
    let at = draw.below(bytes.len()) & !3;
    let new: Vec<u8> = match draw.below(5) {
        0 => draw
            .of(&[f32::NAN, f32::INFINITY, 1e30, -0.0, 1e-40, 3.0])
            .to_le_bytes()
            .into(),
        1 => draw
            .of(&[f32::NAN, f32::INFINITY, 1e30, -0.0, 1e-40, 3.0])
            .to_be_bytes()
            .into(),
        2 => draw
            .of(&[f64::NAN, f64::INFINITY, 1e300, -1.0, 7.0])
            .to_be_bytes()
            .into(),
        3 => draw
            .of(&[0_u32, 1, 2, 11, 12, 255, 1 << 20, u32::MAX])
            .to_le_bytes()
            .into(),
        _ => draw
            .of(&[0_u32, 1, 2, 11, 12, 255, 1 << 20, u32::MAX])
            .to_be_bytes()
            .into(),
    };
    for (old, new) in bytes.iter_mut().skip(at).zip(new) {
        *old = new;
    }
}

/// A base64 block of a VTK XML file is unpacked, changed, and packed again.
fn block(draw: &mut Draw, bytes: &mut Vec<u8>) {
    let wide = find(bytes, 0, b"header_type=\"UInt64\"").is_some();
    let packed = find(bytes, 0, b"vtkZLib").is_some();
    let word = if wide { 8 } else { 4 };
    let all = places(bytes, b"format=\"binary\"");
    if all.is_empty() {
        return;
    }
    let at = draw.of(&all);
    let Some(from) = find(bytes, at, b">").map(|i| i + 1) else {
        return;
    };
    let Some(to) = find(bytes, from, b"<") else {
        return;
    };
    let text: Vec<u8> = bytes[from..to]
        .iter()
        .copied()
        .filter(u8::is_ascii_graphic)
        .collect();
    let Some(mut data) = unpacked(&text, word, packed) else {
        return;
    };
    match draw.below(5) {
        0 => data.truncate(draw.below(data.len())),
        1 => data.extend_from_within(..),
        2 => data = vec![draw.of(&[0, 0x7f, 0xff]); draw.below(200)],
        _ => binary_number(draw, &mut data),
    }
    let mut new = if packed {
        compressed(draw, &data, wide)
    } else {
        let lie = if draw.once_in(4) { draw.below(9) } else { 0 };
        let mut whole = entry(data.len() + lie, wide);
        whole.extend(&data);
        STANDARD.encode(whole)
    };
    if draw.once_in(6) {
        new.truncate(draw.below(new.len()));
    }
    bytes.splice(from..to, new.bytes());
}

fn entry(n: usize, wide: bool) -> Vec<u8> {
    let eight = (n as u64).to_le_bytes();
    eight[..if wide { 8 } else { 4 }].to_vec()
}

/// The data of a block in the little-endian order of most seeds; of others they are random, which
/// does as well.
fn unpacked(text: &[u8], word: usize, packed: bool) -> Option<Vec<u8>> {
    if !packed {
        let all = STANDARD.decode(text).ok()?;
        return all.get(word..).map(<[u8]>::to_vec);
    }
    let head = (4 * word).div_ceil(3) * 4;
    let all = STANDARD.decode(text.get(head..)?).ok()?;
    let mut out = Vec::new();
    std::io::Read::read_to_end(&mut flate2::read::ZlibDecoder::new(&all[..]), &mut out).ok()?;
    Some(out)
}

/// Data as one or several compressed blocks; now and then with a header that does not fit, or with
/// blocks that unpack to far more than announced.
fn compressed(draw: &mut Draw, data: &[u8], wide: bool) -> String {
    let size = draw.of(&[data.len().max(1), 16, 64, 1 << 15]);
    let mut parts: Vec<Vec<u8>> = data.chunks(size).map(deflate).collect();
    if draw.once_in(10) && !parts.is_empty() {
        let which = draw.below(parts.len());
        parts[which] = deflate(&vec![0; 1 << 22]);
    }
    if draw.once_in(4) && !parts.is_empty() {
        let which = draw.below(parts.len());
        let keep = draw.below(parts[which].len());
        parts[which].truncate(keep);
    }
    let last = data.len() % size;
    let mut numbers = vec![parts.len(), size, last];
    numbers.extend(parts.iter().map(Vec::len));
    if draw.once_in(3) {
        let which = draw.below(numbers.len());
        let lie = draw.of(&[0, 1, 7, 1 << 16, 1 << 30, usize::MAX]);
        numbers[which] = if draw.once_in(2) {
            lie
        } else {
            numbers[which].wrapping_add(lie)
        };
    }
    let head: Vec<u8> = numbers.iter().flat_map(|n| entry(*n, wide)).collect();
    STANDARD.encode(head) + &STANDARD.encode(parts.concat())
}

fn deflate(data: &[u8]) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::fast());
    let written = encoder.write_all(data).and_then(|()| encoder.finish());
    written.unwrap_or_default()
}
