//! A surface as binary STL.

use std::io::{BufWriter, Write};
use std::path::Path;

use nalgebra::Vector3;

use crate::study::KeepError;
use crate::study::store::create;

/// Writes triangles as binary STL, lengths in mm, in the scene's frame; `axes` says where its axes point.
///
/// # Errors
/// The failure of a file operation.
pub fn write_stl(
    path: &Path,
    axes: &str,
    points: &[Vector3<f64>],
    triangles: &[[u32; 3]],
) -> Result<(), KeepError> {
    let mut head = [b' '; 80];
    let title = format!("lumen of a scene, mm; {axes}");
    for (byte, of_title) in head.iter_mut().zip(title.bytes()) {
        *byte = of_title;
    }
    let write = || -> std::io::Result<()> {
        let mut file = BufWriter::new(create(path)?);
        file.write_all(&head)?;
        let count = u32::try_from(triangles.len()).unwrap_or(u32::MAX);
        file.write_all(&count.to_le_bytes())?;
        for triangle in triangles {
            let [a, b, c] = triangle.map(|i| points[i as usize]);
            let normal = (b - a).cross(&(c - a));
            let normal = normal.try_normalize(0.0).unwrap_or_default();
            for v in [normal, a, b, c] {
                for x in v.iter() {
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "the format holds 32-bit numbers"
                    )]
                    file.write_all(&(*x as f32).to_le_bytes())?;
                }
            }
            file.write_all(&[0, 0])?;
        }
        file.flush()
    };
    write().map_err(KeepError::at(path))
}
