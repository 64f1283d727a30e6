//! An animated GIF of pictures that differ little: one palette for all, and of each picture only the
//! rectangle that has changed.

use std::collections::BTreeMap;

use gif::{DisposalMethod, Encoder, Frame, Repeat};
use resvg::tiny_skia::Pixmap;
use rustc_hash::FxHashMap;

use super::canvas::FigureError;

/// Most colours of a GIF.
const COLOURS: usize = 256;

/// A GIF that is being written.
pub struct GifWriter {
    encoder: Encoder<Vec<u8>>,
    palette: Vec<[u8; 3]>,
    /// Number in the palette of each colour that has been met.
    known: FxHashMap<[u8; 3], u8>,
    size: (u16, u16),
    before: Vec<u8>,
}

impl GifWriter {
    /// A GIF of pictures of the size of `scene`, with the colours of that and of `samples`.
    ///
    /// # Errors
    ///
    /// A picture that is larger than a GIF can be.
    pub fn new(scene: &Pixmap, samples: &[Pixmap]) -> Result<Self, FigureError> {
        let side = |length: u32| u16::try_from(length).map_err(FigureError::drawing);
        let size = (side(scene.width())?, side(scene.height())?);
        let palette = palette(std::iter::once(scene).chain(samples));
        let flat: Vec<u8> = palette.iter().flatten().copied().collect();
        let mut encoder =
            Encoder::new(Vec::new(), size.0, size.1, &flat).map_err(FigureError::drawing)?;
        encoder
            .set_repeat(Repeat::Infinite)
            .map_err(FigureError::drawing)?;
        Ok(Self {
            encoder,
            palette,
            known: FxHashMap::default(),
            size,
            before: Vec::new(),
        })
    }

    /// Adds a picture that stands so many s.
    ///
    /// # Errors
    ///
    /// What the encoder reports.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundredths of a second"
    )]
    pub fn add(&mut self, picture: &Pixmap, stands_s: f64) -> Result<(), FigureError> {
        // Neighbours mostly have the same colour.
        let mut last = ([0; 3], self.number([0; 3]));
        let now: Vec<u8> = picture
            .pixels()
            .iter()
            .map(|p| {
                let colour = [p.red(), p.green(), p.blue()];
                if colour != last.0 {
                    last = (colour, self.number(colour));
                }
                last.1
            })
            .collect();
        let [left, top, right, bottom] = self.changed(&now);
        let wide = usize::from(self.size.0);
        let mut buffer = Vec::new();
        for y in top..bottom {
            let row = usize::from(y) * wide;
            buffer.extend_from_slice(&now[row + usize::from(left)..row + usize::from(right)]);
        }
        let frame = Frame {
            delay: (100.0 * stands_s).round() as u16,
            dispose: DisposalMethod::Keep,
            left,
            top,
            width: right - left,
            height: bottom - top,
            buffer: buffer.into(),
            ..Frame::default()
        };
        self.encoder
            .write_frame(&frame)
            .map_err(FigureError::drawing)?;
        self.before = now;
        Ok(())
    }

    /// The bytes of the file.
    ///
    /// # Errors
    ///
    /// What the encoder reports.
    pub fn finish(self) -> Result<Vec<u8>, FigureError> {
        self.encoder.into_inner().map_err(FigureError::drawing)
    }

    /// The rectangle in which a picture differs from the one before; one pixel where it does not.
    fn changed(&self, now: &[u8]) -> [u16; 4] {
        let (wide, high) = self.size;
        if self.before.len() != now.len() {
            return [0, 0, wide, high];
        }
        let mut at = [wide, high, 0, 0];
        let rows = now
            .chunks(usize::from(wide))
            .zip(self.before.chunks(usize::from(wide)));
        for (y, (now, before)) in (0..high).zip(rows) {
            if now == before {
                continue;
            }
            for (x, (a, b)) in (0..wide).zip(now.iter().zip(before)) {
                if a != b {
                    at = [
                        at[0].min(x),
                        at[1].min(y),
                        at[2].max(x + 1),
                        at[3].max(y + 1),
                    ];
                }
            }
        }
        if at[2] == 0 { [0, 0, 1, 1] } else { at }
    }

    /// The nearest colour of the palette.
    fn number(&mut self, colour: [u8; 3]) -> u8 {
        if let Some(number) = self.known.get(&colour) {
            return *number;
        }
        let away = |other: &[u8; 3]| -> u32 {
            let parts = colour.iter().zip(other);
            parts.map(|(a, b)| u32::from(a.abs_diff(*b)).pow(2)).sum()
        };
        let numbered = self.palette.iter().enumerate();
        let nearest = numbered.min_by_key(|(_, other)| away(other));
        let number = nearest.map_or(0, |(number, _)| u8::try_from(number).unwrap_or(u8::MAX));
        self.known.insert(colour, number);
        number
    }
}

/// The most frequent colours; those in one sixteenth of the range of red, green and blue count as one.
fn palette<'p>(pictures: impl Iterator<Item = &'p Pixmap>) -> Vec<[u8; 3]> {
    let mut counts: BTreeMap<[u8; 3], BTreeMap<[u8; 3], u32>> = BTreeMap::new();
    for picture in pictures {
        let mut last = None;
        let mut run = 0;
        let mut put = |colour: Option<[u8; 3]>, run: u32| {
            if let Some(colour) = colour {
                let alike = colour.map(|c| c >> 4);
                *counts.entry(alike).or_default().entry(colour).or_default() += run;
            }
        };
        for pixel in picture.pixels() {
            let colour = Some([pixel.red(), pixel.green(), pixel.blue()]);
            if colour != last {
                put(last, run);
                last = colour;
                run = 0;
            }
            run += 1;
        }
        put(last, run);
    }
    let best = |alike: &BTreeMap<[u8; 3], u32>| {
        let most = alike.iter().max_by_key(|(_, count)| **count);
        most.map_or([0; 3], |(colour, _)| *colour)
    };
    let mut found: Vec<(u32, [u8; 3])> = (counts.values())
        .map(|alike| (alike.values().sum(), best(alike)))
        .collect();
    found.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    found.truncate(COLOURS);
    found.into_iter().map(|(_, colour)| colour).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use resvg::tiny_skia::Color;

    fn plain(red: u8) -> Pixmap {
        let mut picture = Pixmap::new(8, 4).expect("a picture");
        picture.fill(Color::from_rgba8(red, 0, 0, 255));
        picture
    }

    #[test]
    fn of_a_picture_only_what_has_changed_is_written() {
        let (first, mut second) = (plain(200), plain(200));
        let blue = Color::from_rgba8(0, 0, 255, 255)
            .premultiply()
            .to_color_u8();
        second.pixels_mut()[8 + 3] = blue;
        let mut recording = GifWriter::new(&first, std::slice::from_ref(&second)).expect("begun");
        for picture in [&first, &second] {
            recording.add(picture, 0.5).expect("added");
        }
        let bytes = recording.finish().expect("written");
        let mut options = gif::DecodeOptions::new();
        options.set_color_output(gif::ColorOutput::RGBA);
        let mut reader = options.read_info(bytes.as_slice()).expect("a GIF");
        let frame = reader
            .read_next_frame()
            .expect("read")
            .expect("first")
            .clone();
        assert_eq!((frame.width, frame.height, frame.delay), (8, 4, 50));
        assert!(frame.buffer.chunks(4).all(|p| p == [200, 0, 0, 255]));
        let frame = reader
            .read_next_frame()
            .expect("read")
            .expect("second")
            .clone();
        assert_eq!(
            (frame.left, frame.top, frame.width, frame.height),
            (3, 1, 1, 1)
        );
        assert_eq!(&frame.buffer[..], [0, 0, 255, 255]);
    }
}
