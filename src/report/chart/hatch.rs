/// Lines at 45° inside a polygon (even-odd), `every` points apart. Drawn as lines, so that a hatch
/// prints alike everywhere and is told apart without colour.
pub(super) fn hatch(polygon: &[(f64, f64)], every: f64) -> Vec<((f64, f64), (f64, f64))> {
    let offsets = polygon.iter().map(|(x, y)| x + y);
    let (low, high) = offsets.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), offset| {
        (low.min(offset), high.max(offset))
    });
    if polygon.len() < 3 || !(high - low).is_finite() {
        return Vec::new();
    }
    let first = (low / every).ceil() as i64;
    let last = (high / every).floor() as i64;
    let mut lines = Vec::new();
    for place in first..=last.min(first.saturating_add(4000)) {
        let offset = place as f64 * every;
        let mut crossings: Vec<f64> = edges(polygon)
            .filter_map(|(a, b)| {
                let (start, end) = (a.0 + a.1 - offset, b.0 + b.1 - offset);
                // Half-open, so that a corner on the line counts once.
                if (start < 0.0) == (end < 0.0) {
                    return None;
                }
                let share = start / (start - end);
                Some(a.0 + share * (b.0 - a.0))
            })
            .collect();
        crossings.sort_by(f64::total_cmp);
        for pair in crossings.chunks_exact(2) {
            let (left, right) = (pair[0], pair[1]);
            if right - left > 0.2 {
                lines.push(((left, offset - left), (right, offset - right)));
            }
        }
    }
    lines
}

fn edges(polygon: &[(f64, f64)]) -> impl Iterator<Item = ((f64, f64), (f64, f64))> + '_ {
    polygon.iter().copied().zip(polygon.iter().copied().cycle().skip(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hatch_stays_inside_the_polygon() {
        let square = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)];
        let lines = hatch(&square, 3.0);
        assert_eq!(lines.len(), 6);
        for (from, to) in lines {
            for (x, y) in [from, to] {
                assert!((-1e-9..=10.0 + 1e-9).contains(&x) && (-1e-9..=10.0 + 1e-9).contains(&y));
            }
        }
    }
}
