use slint::Rgb8Pixel;

/// The rectangle of pixels that a stroke has touched.
#[derive(Clone, Copy, Debug)]
pub(super) struct Touched {
    pub(super) left: usize,
    pub(super) right: usize,
    pub(super) top: usize,
    pub(super) bottom: usize,
}

impl Touched {
    pub(super) const fn nothing() -> Self {
        Self { left: usize::MAX, right: 0, top: usize::MAX, bottom: 0 }
    }

    pub(super) fn add(&mut self, row: usize, left: usize, right: usize) {
        self.left = self.left.min(left);
        self.right = self.right.max(right);
        self.top = self.top.min(row);
        self.bottom = self.bottom.max(row + 1);
    }
}

/// Keeps, of each crowded device row, the least and the greatest, in order of time.
pub(super) fn reduce(points: &[(f64, f64)], scale: f64) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    let mut start = 0;
    while start < points.len() {
        let row = (points[start].1 * scale).floor();
        let mut end = start + 1;
        while end < points.len() && (points[end].1 * scale).floor() == row {
            end += 1;
        }
        let group = &points[start..end];
        let by_x = |a: &&(f64, f64), b: &&(f64, f64)| a.0.total_cmp(&b.0);
        let extremes = [group.iter().min_by(by_x), group.iter().max_by(by_x)];
        if group.len() <= 3 {
            kept.extend_from_slice(group);
        } else if let [Some(least), Some(greatest)] = extremes {
            let ordered =
                if least.1 <= greatest.1 { [*least, *greatest] } else { [*greatest, *least] };
            kept.extend(ordered);
        }
        start = end;
    }
    kept
}

/// Lays `ink` over a pixel.
pub(super) fn blend(pixel: &mut Rgb8Pixel, ink: Rgb8Pixel, cover: u8) {
    let mix = |under: u8, over: u8| {
        let value = u32::from(under) * u32::from(255 - cover) + u32::from(over) * u32::from(cover);
        ((value + 127) / 255) as u8
    };
    *pixel = Rgb8Pixel { r: mix(pixel.r, ink.r), g: mix(pixel.g, ink.g), b: mix(pixel.b, ink.b) };
}
