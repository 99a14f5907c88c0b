use slint::{Rgb8Pixel, SharedPixelBuffer};

use super::cover::{Touched, blend, reduce};

/// A pattern along a line: drawn and left out, in logical pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dash {
    /// Drawn length.
    pub on: f64,
    /// Length left out.
    pub off: f64,
}

/// A picture at device pixels that is drawn on in logical pixels.
///
/// Time is y on a strip, so a long trace is first reduced to what each row of pixels can show
/// (its least and greatest) and then stroked with round joins: the cost follows the height of the
/// picture, not the number of samples.
#[derive(Debug)]
pub struct Canvas {
    buffer: SharedPixelBuffer<Rgb8Pixel>,
    /// How much of each pixel the stroke in hand covers; kept at zero between strokes.
    cover: Vec<u8>,
    scale: f64,
    /// First and last (excluded) row that strokes and areas may touch.
    rows: (usize, usize),
    /// First and last (excluded) column that strokes and hatching may touch.
    columns: (usize, usize),
}

impl Canvas {
    /// A picture of `width` by `height` logical pixels at `scale` device pixels each.
    pub fn new(width: f64, height: f64, scale: f64, ground: Rgb8Pixel) -> Self {
        let across = (width * scale).round().clamp(1.0, 8192.0) as u32;
        let down = (height * scale).round().clamp(1.0, 8192.0) as u32;
        let mut buffer = SharedPixelBuffer::new(across, down);
        buffer.make_mut_slice().fill(ground);
        let cover = vec![0; across as usize * down as usize];
        let (rows, columns) = ((0, down as usize), (0, across as usize));
        Self { buffer, cover, scale, rows, columns }
    }

    /// The finished picture.
    pub fn into_buffer(self) -> SharedPixelBuffer<Rgb8Pixel> {
        self.buffer
    }

    /// Device rows to a logical pixel.
    pub fn rows_per_pixel(&self) -> f64 {
        self.scale
    }

    /// Keeps strokes, areas and hatching between these two heights.
    pub fn keep_between(&mut self, top: f64, foot: f64) {
        let row = |y: f64| (y * self.scale).round().clamp(0.0, self.down() as f64) as usize;
        self.rows = (row(top), row(foot));
    }

    /// Keeps strokes and hatching between these two edges.
    pub fn keep_within(&mut self, left: f64, right: f64) {
        let column = |x: f64| (x * self.scale).round().clamp(0.0, self.across() as f64) as usize;
        self.columns = (column(left), column(right));
    }

    fn across(&self) -> usize {
        self.buffer.width() as usize
    }

    fn down(&self) -> usize {
        self.buffer.height() as usize
    }

    /// Fills a rectangle, its edges on whole device pixels.
    pub fn fill(&mut self, x: f64, y: f64, width: f64, height: f64, ink: Rgb8Pixel, alpha: f64) {
        let (left, right) = self.span(x, width, self.across());
        let (top, bottom) = self.span(y, height, self.down());
        let across = self.across();
        let alpha = (alpha * 255.0).round() as u8;
        let pixels = self.buffer.make_mut_slice();
        for row in top..bottom {
            let line = &mut pixels[row * across + left..row * across + right.max(left)];
            if alpha == 255 {
                line.fill(ink);
            } else {
                line.iter_mut().for_each(|pixel| blend(pixel, ink, alpha));
            }
        }
    }

    /// First and last (excluded) device pixel of a length; at least one pixel.
    fn span(&self, start: f64, length: f64, limit: usize) -> (usize, usize) {
        let first = (start * self.scale).round().clamp(0.0, limit as f64);
        let size = (length * self.scale).round().max(1.0);
        (first as usize, (first + size).clamp(0.0, limit as f64) as usize)
    }

    /// A vertical line centred on `x`.
    pub fn vertical(&mut self, x: f64, from: f64, to: f64, width: f64, ink: Rgb8Pixel) {
        self.fill(x - width / 2.0, from, width, to - from, ink, 1.0);
    }

    /// A horizontal line centred on `y`.
    pub fn horizontal(&mut self, y: f64, from: f64, to: f64, width: f64, ink: Rgb8Pixel) {
        self.fill(from, y - width / 2.0, to - from, width, ink, 1.0);
    }

    /// A dashed horizontal line.
    pub fn horizontal_dashes(
        &mut self,
        y: f64,
        from: f64,
        to: f64,
        width: f64,
        dash: Dash,
        ink: Rgb8Pixel,
    ) {
        let mut x = from;
        while x < to {
            self.horizontal(y, x, (x + dash.on).min(to), width, ink);
            x += dash.on + dash.off;
        }
    }

    /// A dashed vertical line.
    pub fn vertical_dashes(
        &mut self,
        x: f64,
        from: f64,
        to: f64,
        width: f64,
        dash: Dash,
        ink: Rgb8Pixel,
    ) {
        let mut y = from;
        while y < to {
            self.vertical(x, y, (y + dash.on).min(to), width, ink);
            y += dash.on + dash.off;
        }
    }

    /// A filled disc.
    pub fn disc(&mut self, x: f64, y: f64, radius: f64, ink: Rgb8Pixel) {
        self.stroke(&[(x, y), (x, y)], radius * 2.0, None, ink);
    }

    /// Lines at 45° over each row's span, `rows` holding y and the two ends.
    pub fn hatch(&mut self, rows: &[(f64, f64, f64)], width: f64, every: f64, ink: Rgb8Pixel) {
        let (scale, across, down) = (self.scale, self.across(), self.down());
        let period = every * scale * std::f64::consts::SQRT_2;
        let thick = width * scale * std::f64::consts::SQRT_2;
        // One pixel of ramp on either side of each line; the pattern depends on x + y alone.
        let pattern: Vec<u8> = (0..across + down)
            .map(|place| {
                let phase = (place as f64).rem_euclid(period);
                let cover = (phase + 0.5).min(thick + 0.5 - phase).clamp(0.0, 1.0);
                (cover * 0.75 * 255.0) as u8
            })
            .collect();
        let pixels = self.buffer.make_mut_slice();
        for (y, from, to) in rows {
            let row = *y as usize;
            if row >= down {
                continue;
            }
            let (first, last) = (self.columns.0 as f64, self.columns.1 as f64);
            let left = (from.min(*to) * scale).clamp(first, last) as usize;
            let right = (from.max(*to) * scale).clamp(first, last) as usize;
            let line = &mut pixels[row * across + left..row * across + right];
            for (pixel, cover) in line.iter_mut().zip(&pattern[row + left..]) {
                if *cover > 0 {
                    blend(pixel, ink, *cover);
                }
            }
        }
    }

    /// Fills from `edge` to the trace on every row.
    pub fn area(&mut self, points: &[(f64, f64)], edge: f64, ink: Rgb8Pixel) {
        for (row, low, high) in self.rows(points) {
            let x = (low + high) / 2.0;
            let y = row as f64 / self.scale;
            self.fill(edge.min(x), y, (x - edge).abs(), 1.0 / self.scale, ink, 1.0);
        }
    }

    /// Device rows that a trace crosses, with its least and greatest x there.
    pub fn rows(&self, points: &[(f64, f64)]) -> Vec<(usize, f64, f64)> {
        let mut rows: Vec<(usize, f64, f64)> = Vec::new();
        let (highest, down) = self.rows;
        for pair in points.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            let (top, bottom) = (y0 * self.scale, y1 * self.scale);
            if bottom < highest as f64 || top >= down as f64 {
                continue;
            }
            let first = (top.max(0.0) as usize).max(highest);
            let last = (bottom.max(0.0) as usize).min(down.saturating_sub(1));
            for row in first..=last {
                let at = |y: f64| {
                    if bottom > top {
                        x0 + (x1 - x0) * ((y - top) / (bottom - top)).clamp(0.0, 1.0)
                    } else {
                        x1
                    }
                };
                let (a, b) = (at(row as f64), at(row as f64 + 1.0));
                let (low, high) = (a.min(b), a.max(b));
                match rows.last_mut() {
                    Some(known) if known.0 == row => {
                        known.1 = known.1.min(low);
                        known.2 = known.2.max(high);
                    }
                    Some(known) if known.0 > row => {}
                    _ => rows.push((row, low, high)),
                }
            }
        }
        rows
    }

    /// Strokes a line of any number of points. Where samples crowd, each row is filled from its
    /// least to its greatest value: neighbours overlap, so that joins need no drawing.
    pub fn trace(&mut self, points: &[(f64, f64)], width: f64, ink: Rgb8Pixel) {
        let rows = match (points.first(), points.last()) {
            (Some(first), Some(last)) => (last.1 - first.1).abs() * self.scale,
            _ => return,
        };
        if points.len() as f64 <= 3.0 * rows.max(1.0) {
            self.stroke(&reduce(points, self.scale), width, None, ink);
            return;
        }
        let (radius, scale, across) = (width / 2.0, self.scale, self.across());
        let (first, last) = (self.columns.0 as f64, self.columns.1 as f64);
        let spans = self.rows(points);
        let pixels = self.buffer.make_mut_slice();
        for (row, low, high) in spans {
            let from = ((low - radius) * scale).clamp(first, last);
            let until = ((high + radius) * scale).clamp(from, last);
            let line = &mut pixels[row * across..(row + 1) * across];
            for (column, pixel) in
                line.iter_mut().enumerate().take(until.ceil() as usize).skip(from as usize)
            {
                let left = (column as f64).max(from);
                let cover = (column as f64 + 1.0).min(until) - left;
                blend(pixel, ink, (cover * 255.0) as u8);
            }
        }
    }

    /// Strokes a line with round joins and ends.
    pub fn stroke(
        &mut self,
        points: &[(f64, f64)],
        width: f64,
        dash: Option<Dash>,
        ink: Rgb8Pixel,
    ) {
        let radius = width * self.scale / 2.0;
        let mut touched = Touched::nothing();
        let mut along = 0.0;
        for pair in points.windows(2) {
            let from = (pair[0].0 * self.scale, pair[0].1 * self.scale);
            let to = (pair[1].0 * self.scale, pair[1].1 * self.scale);
            let Some(dash) = dash else {
                self.cover_segment(from, to, radius, &mut touched);
                continue;
            };
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            let (on, period) = (dash.on * self.scale, (dash.on + dash.off) * self.scale);
            let mut start = 0.0;
            while start < length {
                let phase = (along + start) % period;
                let rest = if phase < on { on - phase } else { period - phase };
                let end = (start + rest.max(0.01)).min(length);
                if phase < on {
                    let at = |d: f64| {
                        let part = d / length;
                        (from.0 + (to.0 - from.0) * part, from.1 + (to.1 - from.1) * part)
                    };
                    self.cover_segment(at(start), at(end), radius, &mut touched);
                }
                start = end;
            }
            along += length;
        }
        self.apply(touched, ink);
    }

    /// Marks the pixels within `radius` of a segment, edges softened over one pixel.
    fn cover_segment(
        &mut self,
        from: (f64, f64),
        to: (f64, f64),
        radius: f64,
        touched: &mut Touched,
    ) {
        let across = self.across();
        let (first, last) = self.columns;
        let reach = radius + 0.5;
        let top = ((from.1.min(to.1) - reach).floor().max(0.0) as usize).max(self.rows.0);
        let bottom = ((from.1.max(to.1) + reach).ceil().max(0.0) as usize).min(self.rows.1);
        if top >= bottom {
            return;
        }
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let square = dx * dx + dy * dy;
        for row in top..bottom {
            let y = row as f64 + 0.5;
            // The part of the segment that lies within reach of this row bounds the columns.
            let (near, far) = if dy.abs() < 1e-9 {
                (from.0.min(to.0), from.0.max(to.0))
            } else {
                let a = (((y - reach - from.1) / dy).clamp(0.0, 1.0)) * dx + from.0;
                let b = (((y + reach - from.1) / dy).clamp(0.0, 1.0)) * dx + from.0;
                (a.min(b), a.max(b))
            };
            let left = ((near - reach).floor().max(0.0) as usize).max(first);
            let right = ((far + reach).ceil().max(0.0) as usize).min(last);
            if left >= right {
                continue;
            }
            touched.add(row, left, right);
            let line = &mut self.cover[row * across + left..row * across + right];
            // Along a flat segment every column between its ends is equally far from it.
            if dy.abs() < 0.75 && dx.abs() > 4.0 {
                let away = (y - (from.1 + to.1) / 2.0).abs();
                let value = ((radius + 0.5 - away).clamp(0.0, 1.0) * 255.0) as u8;
                let (first, last) =
                    ((near.ceil() as usize).clamp(left, right), (far as usize).min(right));
                if value > 0 && first < last {
                    for cover in &mut line[first - left..last - left] {
                        *cover = (*cover).max(value);
                    }
                }
                let round = |column: usize| {
                    let x = column as f64 + 0.5;
                    let beside = (near - x).max(x - far).max(0.0);
                    let distance = (beside * beside + away * away).sqrt();
                    ((radius + 0.5 - distance).clamp(0.0, 1.0) * 255.0) as u8
                };
                for column in (left..first.min(right)).chain(last.max(left)..right) {
                    let cover = &mut line[column - left];
                    *cover = (*cover).max(round(column));
                }
                continue;
            }
            for (offset, cover) in line.iter_mut().enumerate() {
                let x = (left + offset) as f64 + 0.5;
                let part = if square > 0.0 {
                    (((x - from.0) * dx + (y - from.1) * dy) / square).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                let (px, py) = (from.0 + dx * part - x, from.1 + dy * part - y);
                let away = px * px + py * py;
                if away < reach * reach {
                    let value = ((reach - away.sqrt()).min(1.0) * 255.0) as u8;
                    *cover = (*cover).max(value);
                }
            }
        }
    }

    /// Lays the ink over what is covered, and clears the cover.
    fn apply(&mut self, touched: Touched, ink: Rgb8Pixel) {
        let across = self.across();
        let pixels = self.buffer.make_mut_slice();
        for row in touched.top..touched.bottom {
            let range = row * across + touched.left..row * across + touched.right;
            for (pixel, cover) in pixels[range.clone()].iter_mut().zip(&mut self.cover[range]) {
                if *cover > 0 {
                    blend(pixel, ink, *cover);
                    *cover = 0;
                }
            }
        }
    }
}
