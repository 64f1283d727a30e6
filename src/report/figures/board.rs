//! Places for texts in one view of the scene: beside what is drawn, never on another text, with a
//! leader line where a text does not lie next to what it names.

use super::axis::Plot;

/// A point on paper, in points.
pub type Paper = (f64, f64);

/// Edge of the cells in which the paper is marked as covered, in points.
const CELL: f64 = 3.0;
/// Air on each side of a text, in points.
pub const AIR: f64 = 5.0;
/// Half the height of a text with some air, in points.
pub const HALF_LINE: f64 = 9.0;
/// Distances in points of a text from what it names.
const GAPS: [f64; 7] = [5.0, 11.0, 20.0, 34.0, 52.0, 76.0, 106.0];
/// Directions in which a text may lie from what it names.
const DIRECTIONS: u32 = 16;
/// Distance in points from which on a text needs a leader line.
const LEADER: f64 = 13.0;

/// What makes one place worse than another by as much as a point of distance does: a cell of a
/// vessel and of a wire under the text, a cell of a wire under the leader, and a text that another
/// vessel is as near to.
const ON_VESSEL: f64 = 4.0;
const ON_WIRE: f64 = 8.0;
const ACROSS_WIRE: f64 = 12.0;
const AMBIGUOUS: f64 = 30.0;

/// A rectangle on paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TextBox {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
}

impl TextBox {
    /// The box of a text `width` points wide around its middle.
    fn around((x, y): Paper, width: f64) -> Self {
        let half = 0.5 * width + AIR;
        Self {
            left: x - half,
            top: y - HALF_LINE,
            right: x + half,
            bottom: y + HALF_LINE,
        }
    }

    fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    fn nearest(&self, (x, y): Paper) -> Paper {
        (
            x.clamp(self.left, self.right),
            y.clamp(self.top, self.bottom),
        )
    }

    fn distance(&self, p: Paper) -> f64 {
        away(self.nearest(p), p)
    }

    /// Whether a line passes through the box or hardly beside it.
    fn meets(&self, [a, b]: [Paper; 2]) -> bool {
        (0..=20).any(|k| {
            let t = f64::from(k) / 20.0;
            self.distance((a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1))) < 1.0
        })
    }
}

/// Distance of two points of the paper, far from any overflow.
fn away(a: Paper, b: Paper) -> f64 {
    let (x, y) = (a.0 - b.0, a.1 - b.1);
    (x * x + y * y).sqrt()
}

/// Which cells of the frame something covers, summed from the upper left corner.
struct Covered {
    columns: usize,
    rows: usize,
    corner: Paper,
    /// Covered cells above and to the left of each corner of a cell.
    sums: Vec<f64>,
}

impl Covered {
    fn new(plot: &Plot, discs: impl Iterator<Item = (Paper, f64)>) -> Self {
        let count = |length: f64| to_index(length / CELL) + 1;
        let columns = count(plot.right - plot.left);
        let rows = count(plot.bottom - plot.top);
        let mut cells = vec![false; columns * rows];
        for ((x, y), radius) in discs {
            let (x, y) = ((x - plot.left) / CELL, (y - plot.top) / CELL);
            let r = radius / CELL;
            for row in to_index(y - r)..rows.min(to_index(y + r + 1.0)) {
                for column in to_index(x - r)..columns.min(to_index(x + r + 1.0)) {
                    let off = (column as f64 + 0.5 - x).hypot(row as f64 + 0.5 - y);
                    cells[row * columns + column] |= off <= r.max(0.71);
                }
            }
        }
        let wide = columns + 1;
        let mut sums = vec![0.0; wide * (rows + 1)];
        for row in 0..rows {
            let mut in_row = 0.0;
            for column in 0..columns {
                in_row += f64::from(u8::from(cells[row * columns + column]));
                sums[(row + 1) * wide + column + 1] = sums[row * wide + column + 1] + in_row;
            }
        }
        Self {
            columns,
            rows,
            corner: (plot.left, plot.top),
            sums,
        }
    }

    /// How many covered cells lie in a box.
    fn within(&self, b: &TextBox) -> f64 {
        let column = |x: f64| to_index((x - self.corner.0) / CELL).min(self.columns);
        let row = |y: f64| to_index((y - self.corner.1) / CELL).min(self.rows);
        let (left, right) = (column(b.left), column(b.right + CELL));
        let (top, bottom) = (row(b.top), row(b.bottom + CELL));
        let sum = |row: usize, column: usize| self.sums[row * (self.columns + 1) + column];
        sum(bottom, right) - sum(top, right) - sum(bottom, left) + sum(top, left)
    }

    /// How many covered cells a line passes, without its first few points.
    fn along(&self, from: Paper, to: Paper) -> f64 {
        let steps = (away(from, to) / CELL).floor();
        let mut passed = 0.0;
        let mut k = 3.0;
        while k < steps {
            let (x, y) = (
                from.0 + (to.0 - from.0) * k / steps,
                from.1 + (to.1 - from.1) * k / steps,
            );
            passed += self.within(&TextBox {
                left: x,
                top: y,
                right: x - CELL + 0.01,
                bottom: y - CELL + 0.01,
            });
            k += 1.0;
        }
        passed
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates; a figure has some hundred points"
)]
fn to_index(x: f64) -> usize {
    x.max(0.0) as usize
}

/// A place that a text may name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Anchor {
    /// The place.
    pub at: Paper,
    /// Distance in points that a text keeps from it.
    pub radius: f64,
    /// How much worse it is than others, in points of distance.
    pub worse: f64,
}

/// Where a text goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Middle of the text.
    pub middle: Paper,
    /// Line from what it names to the text, if it needs one.
    pub leader: Option<[Paper; 2]>,
}

/// What is drawn in a view.
pub struct Board<'a> {
    plot: &'a Plot,
    vessels: Covered,
    wires: Covered,
    /// The discs of each tube.
    tubes: Vec<Vec<(Paper, f64)>>,
    taken: Vec<TextBox>,
    leaders: Vec<[Paper; 2]>,
}

impl<'a> Board<'a> {
    /// A view with the discs of its tubes and the points of its wires, and boxes that are taken.
    #[must_use]
    pub fn new(
        plot: &'a Plot,
        tubes: Vec<Vec<(Paper, f64)>>,
        wires: &[Paper],
        taken: Vec<TextBox>,
    ) -> Self {
        Self {
            plot,
            vessels: Covered::new(plot, tubes.iter().flatten().copied()),
            wires: Covered::new(plot, wires.iter().map(|&p| (p, 1.0))),
            tubes,
            taken,
            leaders: Vec::new(),
        }
    }

    /// Whether a text `width` points wide fits into the frame.
    #[must_use]
    pub fn fits(&self, width: f64) -> bool {
        width < self.plot.right - self.plot.left - 2.0 * (AIR + 1.0)
    }

    /// The best place for a text `width` points wide that names one of `anchors`, which belong to
    /// the tube numbered `own` if to any; `None` where each lies on another text or the frame is too
    /// narrow.
    pub fn place(&mut self, width: f64, anchors: &[Anchor], own: Option<usize>) -> Option<Placed> {
        if !self.fits(width) {
            return None;
        }
        let mut best: Option<(f64, Placed, TextBox)> = None;
        for anchor in anchors {
            for gap in GAPS {
                for direction in 0..DIRECTIONS {
                    let angle =
                        std::f64::consts::TAU * f64::from(direction) / f64::from(DIRECTIONS);
                    let out = anchor.radius + gap;
                    let middle = self.in_frame(
                        (
                            anchor.at.0 + angle.cos() * (out + AIR + 0.5 * width),
                            anchor.at.1 + angle.sin() * (out + HALF_LINE),
                        ),
                        width,
                    );
                    let text = TextBox::around(middle, width);
                    let Some((cost, leader)) = self.cost(anchor, &text, own) else {
                        continue;
                    };
                    if best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                        best = Some((cost, Placed { middle, leader }, text));
                    }
                }
            }
        }
        let (_, placed, text) = best?;
        self.taken.push(text);
        self.leaders.extend(placed.leader);
        Some(placed)
    }

    fn in_frame(&self, (x, y): Paper, width: f64) -> Paper {
        let (plot, half) = (self.plot, 0.5 * width + AIR + 1.0);
        (
            x.clamp(plot.left + half, plot.right - half),
            y.clamp(plot.top + 12.0, plot.bottom - 12.0),
        )
    }

    /// How bad a text's place is, and the leader that it needs; `None` where it lies on another text
    /// or its leader would cross one.
    fn cost(
        &self,
        anchor: &Anchor,
        text: &TextBox,
        own: Option<usize>,
    ) -> Option<(f64, Option<[Paper; 2]>)> {
        let line = [anchor.at, text.nearest(anchor.at)];
        let is_taken = self.taken.iter().any(|t| t.overlaps(text));
        if is_taken || self.leaders.iter().any(|&leader| text.meets(leader)) {
            return None;
        }
        let gap = (away(line[0], line[1]) - anchor.radius).max(0.0);
        let ambiguous = own.is_some_and(|own| self.nearer_to_another(text, own));
        let needs_leader = gap > LEADER || ambiguous;
        if needs_leader && self.taken.iter().any(|t| t.meets(line)) {
            return None;
        }
        let mut cost = anchor.worse + gap;
        cost += ON_VESSEL * self.vessels.within(text) + ON_WIRE * self.wires.within(text);
        if ambiguous {
            cost += AMBIGUOUS;
        }
        if needs_leader {
            cost += ACROSS_WIRE * self.wires.along(line[0], line[1]);
        }
        Some((cost, needs_leader.then_some(line)))
    }

    /// Whether another tube is about as near to a text as its own.
    fn nearer_to_another(&self, text: &TextBox, own: usize) -> bool {
        let to = |tube: &[(Paper, f64)]| {
            let distances = tube.iter().map(|&(p, r)| text.distance(p) - r);
            distances.fold(f64::INFINITY, f64::min)
        };
        let own_distance = to(&self.tubes[own]);
        let others = self.tubes.iter().enumerate().filter(|(k, _)| *k != own);
        others
            .into_iter()
            .any(|(_, tube)| to(tube) < own_distance + AIR)
    }

    /// Whether a point lies on another tube than its own.
    #[must_use]
    pub fn on_another(&self, p: Paper, own: usize) -> bool {
        let others = self.tubes.iter().enumerate().filter(|(k, _)| *k != own);
        others
            .flat_map(|(_, tube)| tube)
            .any(|&(at, radius)| away(at, p) < radius)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plot() -> Plot {
        Plot {
            left: 0.0,
            top: 0.0,
            right: 300.0,
            bottom: 200.0,
            x: (0.0, 300.0),
            y: (200.0, 0.0),
        }
    }

    /// A vessel 40 points wide across the middle of the frame.
    fn vessel() -> Vec<(Paper, f64)> {
        (0..=60)
            .map(|k| ((5.0 * f64::from(k), 100.0), 20.0))
            .collect()
    }

    fn tip() -> Anchor {
        Anchor {
            at: (150.0, 100.0),
            radius: 4.0,
            worse: 0.0,
        }
    }

    #[test]
    fn a_text_stands_beside_the_vessel_with_a_leader() {
        let plot = plot();
        let mut board = Board::new(&plot, vec![vessel()], &[], Vec::new());
        let placed = board.place(80.0, &[tip()], None).expect("a place");
        let text = TextBox::around(placed.middle, 80.0);
        assert!(text.bottom <= 80.0 || text.top >= 120.0, "{placed:?}");
        let [from, to] = placed.leader.expect("a leader");
        assert_eq!(from, tip().at);
        assert!(text.distance(to) < 1e-9);
    }

    #[test]
    fn texts_and_leaders_keep_clear_of_each_other() {
        let plot = plot();
        let mut board = Board::new(&plot, vec![vessel()], &[], Vec::new());
        for _ in 0..5 {
            board.place(80.0, &[tip()], None).expect("a place");
        }
        let boxes = board.taken.clone();
        for (k, text) in boxes.iter().enumerate() {
            assert!(boxes[k + 1..].iter().all(|other| !text.overlaps(other)));
        }
        assert!(board.place(400.0, &[tip()], None).is_none());
    }

    #[test]
    fn covered_cells_are_those_of_the_disc() {
        let plot = plot();
        let disc = Covered::new(&plot, std::iter::once(((150.0, 100.0), 30.0)));
        let whole = TextBox {
            left: 0.0,
            top: 0.0,
            right: 300.0,
            bottom: 200.0,
        };
        let area = disc.within(&whole) * CELL * CELL;
        // A circle over square cells: Gauss's circle problem, off by less than its rim of cells.
        let exact = std::f64::consts::PI * 900.0;
        assert!(
            (area - exact).abs() < std::f64::consts::TAU * 30.0 * CELL,
            "{area}"
        );
        let beside = TextBox {
            left: 200.0,
            ..whole
        };
        approx::assert_abs_diff_eq!(disc.within(&beside), 0.0);
    }
}
