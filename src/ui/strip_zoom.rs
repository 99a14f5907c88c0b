use super::strip::RailSpan;

/// The trace has settled once it stayed near the rails for this long, s.
const SETTLED: f64 = 3.0;
/// Near are so many half bands from their middle.
const REACH: f64 = 3.0;
/// A gain below this is not worth another scale.
const LEAST_GAIN: f64 = 1.5;

/// A finer scale around the rails that hold, with how many times finer it is than `usual`; nothing
/// while the trace is still on its way, or no rails hold.
pub(super) fn zoom(
    pieces: &[Vec<(f64, f64)>],
    rails: &[RailSpan],
    usual: (f64, f64),
) -> Option<((f64, f64), f64)> {
    let rail = rails.last().filter(|rail| rail.until.is_infinite())?;
    let half = (rail.high - rail.low) / 2.0;
    let middle = (rail.high + rail.low) / 2.0;
    let (low, high) = (middle - REACH * half, middle + REACH * half);
    let newest = pieces.last()?.last()?.0;
    let recent = || pieces.iter().flatten().rev().take_while(|it| it.0 >= newest - SETTLED);
    let began = recent().last()?.0;
    let long_enough = newest - began >= SETTLED * 0.8 && rail.from <= newest - SETTLED;
    let settled = recent().all(|(_, value)| (low..=high).contains(value));
    let gain = (usual.1 - usual.0) / (high - low).max(f64::MIN_POSITIVE);
    (long_enough && settled && gain >= LEAST_GAIN).then_some(((low, high), gain))
}

#[cfg(test)]
mod tests {
    use super::*;

    const RAILS: [RailSpan; 1] =
        [RailSpan { from: 0.0, until: f64::INFINITY, low: -20.0, high: 20.0 }];
    const USUAL: (f64, f64) = (-380.0, 40.0);

    /// Ten readings a second that come up from −300 Pa within two seconds.
    fn trace(seconds: u32) -> Vec<Vec<(f64, f64)>> {
        let at = |tenth: u32| f64::from(tenth) / 10.0;
        let fall = |time: f64| -300.0 * (-time / 0.4).exp();
        vec![(0..=seconds * 10).map(|tenth| (at(tenth), fall(at(tenth)))).collect()]
    }

    #[test]
    fn the_scale_is_finer_once_the_trace_has_settled() {
        assert_eq!(zoom(&trace(3), &RAILS, USUAL), None, "still on its way three seconds ago");
        let ((low, high), gain) = zoom(&trace(6), &RAILS, USUAL).unwrap();
        assert_eq!((low, high), (-60.0, 60.0));
        assert_eq!(gain, 3.5);
    }

    #[test]
    fn a_trace_that_leaves_takes_the_usual_scale_back() {
        let mut trace = trace(8);
        trace[0].push((8.1, -90.0));
        assert_eq!(zoom(&trace, &RAILS, USUAL), None);
    }

    #[test]
    fn without_rails_that_hold_or_a_gain_the_scale_stays() {
        assert_eq!(zoom(&trace(8), &[], USUAL), None);
        let ended = [RailSpan { until: 7.0, ..RAILS[0] }];
        assert_eq!(zoom(&trace(8), &ended, USUAL), None);
        assert_eq!(zoom(&trace(8), &RAILS, (-80.0, 80.0)), None);
    }
}
