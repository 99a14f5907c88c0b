use super::axis::Frame;
use super::scale::Scale;
use super::trace::thinned;
use super::{LABEL, about_width};
use crate::checks::FitCurve;
use crate::report::drawing::{Anchor, Drawing, Ink, Segment, Stroke, Weight, outline};
use crate::units::{Estimate, Instant};
use crate::wording::Language;

/// Dash and gap of the fit, and of its bounds.
const DASH: (f64, f64) = (6.0, 4.0);
const DOTS: (f64, f64) = (1.0, 2.0);

/// Draws what was fitted over the trace: dashed, with paper under the dashes, so that the trace shows
/// between them and the two are told apart in grey. The bounds are dotted. Whether anything was drawn.
pub(super) fn fits(
    drawing: &mut Drawing,
    fits: &[FitCurve],
    (start, factor): (Instant, f64),
    values: &Scale,
    time: &Scale,
) -> bool {
    let line = |of: &dyn Fn(&Estimate) -> f64| -> Vec<Segment> {
        let turned = |it: &(Instant, Estimate)| (it.0.seconds_since(start), of(&it.1) * factor);
        let curves = fits.iter().flat_map(|fit| {
            let points: Vec<(f64, f64)> = fit.points.iter().map(turned).collect();
            shown(&points, values, time)
        });
        curves
            .flat_map(|piece| {
                outline(piece.into_iter().map(|(at, value)| (values.at(value), time.at(at))))
            })
            .collect()
    };
    let fitted = line(&|it| it.value);
    if fitted.is_empty() {
        return false;
    }
    for bound in [line(&|it| it.low), line(&|it| it.high)] {
        drawing.path(bound, None, Some(Stroke::dashed(Ink::Fit, 0.9, DOTS.0, DOTS.1)));
    }
    let under = Stroke::dashed(Ink::Paper, 3.4, DASH.0, DASH.1);
    drawing.path(fitted.clone(), None, Some(under));
    drawing.path(fitted, None, Some(Stroke::dashed(Ink::Fit, 1.5, DASH.0, DASH.1)));
    true
}

/// What lies on the strip: cut at its first and last moment, left out where it runs off the scale.
fn shown(points: &[(f64, f64)], values: &Scale, time: &Scale) -> Vec<Vec<(f64, f64)>> {
    let (first, last) = time.ends();
    let (low, high) = values.ends();
    let between =
        |a: (f64, f64), b: (f64, f64), at: f64| (at, a.1 + (b.1 - a.1) * (at - a.0) / (b.0 - a.0));
    let mut cut: Vec<(f64, f64)> = Vec::new();
    for (place, &point) in points.iter().enumerate() {
        let before = place.checked_sub(1).map(|before| points[before]);
        for end in [first, last] {
            if let Some(before) = before.filter(|it| it.0 < end && end < point.0) {
                cut.push(between(before, point, end));
            }
        }
        if (first..=last).contains(&point.0) {
            cut.push(point);
        }
    }
    let row = (last - first) / 220.0;
    let on_scale = |point: &(f64, f64)| (low..=high).contains(&point.1);
    cut.chunk_by(|a, b| on_scale(a) && on_scale(b))
        .filter(|piece| piece.len() > 1)
        .map(|piece| thinned(piece, row))
        .collect()
}

/// The names of the two lines, right of the lane's label.
pub(super) fn fit_legend(drawing: &mut Drawing, frame: Frame, language: Language) {
    let y = frame.top - 16.0;
    let middle = y - LABEL * 0.33;
    let mut x = frame.right;
    for (word, width, (dash, gap)) in [
        (language.of("its bounds", "ihre Grenzen"), 0.9, DOTS),
        (language.of("fit", "Anpassung"), 1.5, DASH),
    ] {
        drawing.text((x, y), Anchor::End, LABEL, Weight::Regular, Ink::Soft, word);
        x -= about_width(word, LABEL) + 4.0;
        drawing.line((x - 26.0, middle), (x, middle), Stroke::dashed(Ink::Fit, width, dash, gap));
        x -= 36.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::MeasureName;
    use crate::report::drawing::Item;

    fn curve(points: &[(f64, f64, f64, f64)]) -> FitCurve {
        let point = |&(at, value, low, high): &(f64, f64, f64, f64)| {
            (Instant::from_seconds(at), Estimate { value, low, high })
        };
        FitCurve { measure: MeasureName::RecoveryTime, points: points.iter().map(point).collect() }
    }

    fn drawn(curve: FitCurve) -> Vec<(Stroke, Vec<Segment>)> {
        let values = Scale::exactly(-100.0, 100.0, 0.0, 200.0, 50.0);
        let time = Scale::exactly(0.0, 10.0, 0.0, 100.0, 5.0);
        let mut drawing = Drawing::new(200.0, 100.0);
        fits(&mut drawing, &[curve], (Instant::ZERO, 1.0), &values, &time);
        let path = |item| match item {
            Item::Path { segments, stroke: Some(stroke), .. } => Some((stroke, segments)),
            _ => None,
        };
        drawing.items.into_iter().filter_map(path).collect()
    }

    /// −50 Pa lies a quarter across, 2 s a fifth down.
    #[test]
    fn fit_is_dashed_where_the_readings_are_and_its_bounds_are_dotted() {
        let drawn = drawn(curve(&[(2.0, -50.0, -60.0, 0.0), (4.0, 0.0, -10.0, 50.0)]));
        let of = |ink: Ink, width: f64| {
            let found = drawn.iter().filter(|it| it.0.ink == ink && it.0.width == width);
            found.map(|it| (it.0.dash, it.1.clone())).collect::<Vec<_>>()
        };
        let at = |points: [(f64, f64); 2]| outline(points);
        assert_eq!(of(Ink::Fit, 1.5), vec![(Some(DASH), at([(50.0, 20.0), (100.0, 40.0)]))]);
        assert_eq!(of(Ink::Paper, 3.4), vec![(Some(DASH), at([(50.0, 20.0), (100.0, 40.0)]))]);
        let bounds = [at([(40.0, 20.0), (90.0, 40.0)]), at([(100.0, 20.0), (150.0, 40.0)])];
        assert_eq!(of(Ink::Fit, 0.9), bounds.map(|it| (Some(DOTS), it)).to_vec());
    }

    #[test]
    fn fit_is_cut_at_the_strip_and_left_out_beyond_its_scale() {
        let drawn = drawn(curve(&[(-10.0, 0.0, -300.0, 0.0), (10.0, 40.0, -300.0, 900.0)]));
        let fit: Vec<_> = drawn.iter().filter(|it| it.0.width == 1.5).collect();
        assert_eq!(fit[0].1, outline([(120.0, 0.0), (140.0, 100.0)]));
        assert!(drawn.iter().filter(|it| it.0.width == 0.9).all(|it| it.1.is_empty()));
    }
}
