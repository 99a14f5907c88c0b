use crate::recording::Series;
use crate::units::Instant;

/// Pieces of a series between two moments as (seconds from `from`, value), broken where readings
/// stopped: a line across a gap would claim what nobody saw.
pub(super) fn pieces(series: &Series, from: Instant, to: Instant) -> Vec<Vec<(f64, f64)>> {
    let end = Instant::from_micros(to.micros().saturating_add(1));
    let (times, values) = series.between(from, end);
    let mut intervals: Vec<f64> =
        times.windows(2).map(|pair| pair[1].seconds_since(pair[0])).collect();
    intervals.sort_by(f64::total_cmp);
    let usual = intervals.get(intervals.len() / 2).copied().unwrap_or(1.0);
    let longest = (usual * 8.0).max(1.0);
    let mut pieces: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut last: Option<f64> = None;
    for (time, value) in times.iter().zip(values) {
        let at = time.seconds_since(from);
        if last.is_none_or(|last| at - last > longest) {
            pieces.push(Vec::new());
        }
        if let Some(piece) = pieces.last_mut() {
            piece.push((at, *value));
        }
        last = Some(at);
    }
    pieces
}

/// Leaves at most four points on every row of a drawing: first, lowest, highest and last, in their
/// order. `row` is the height of a row in the first coordinate.
pub(super) fn thinned(points: &[(f64, f64)], row: f64) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    let mut start = 0;
    while start < points.len() {
        let place = (points[start].0 / row).floor();
        let count =
            points[start..].iter().take_while(|point| (point.0 / row).floor() == place).count();
        let here = &points[start..start + count.max(1)];
        let mut picks = vec![0, here.len() - 1];
        let order = |a: &usize, b: &usize| here[*a].1.total_cmp(&here[*b].1);
        picks.extend((0..here.len()).min_by(order));
        picks.extend((0..here.len()).max_by(order));
        picks.sort_unstable();
        picks.dedup();
        kept.extend(picks.into_iter().map(|pick| here[pick]));
        start += here.len();
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trace_breaks_where_readings_stopped() {
        let mut series = Series::default();
        for tenth in 0..20 {
            series.push(Instant::from_seconds(f64::from(tenth) / 10.0), 1.0);
        }
        for tenth in 0..5 {
            series.push(Instant::from_seconds(10.0 + f64::from(tenth) / 10.0), 2.0);
        }
        let pieces = pieces(&series, Instant::ZERO, Instant::from_seconds(20.0));
        assert_eq!(pieces.iter().map(Vec::len).collect::<Vec<_>>(), vec![20, 5]);
    }

    #[test]
    fn thinning_keeps_the_extremes() {
        let points: Vec<(f64, f64)> =
            (0..1000).map(|i| (f64::from(i) / 100.0, f64::from((i * 37) % 101))).collect();
        let thin = thinned(&points, 1.0);
        assert!(thin.len() <= 44);
        assert!(thin.iter().any(|point| point.1 == 100.0));
        assert!(thin.iter().any(|point| point.1 == 0.0));
        assert!(thin.windows(2).all(|pair| pair[0].0 <= pair[1].0));
    }
}
