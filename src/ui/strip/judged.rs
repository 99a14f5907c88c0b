use super::layout::Place;
use super::raster::Canvas;
use super::spec::{Lane, Look};

/// Ink between the rails and where there are none; red and hatched outside them.
pub(super) fn draw(
    canvas: &mut Canvas,
    look: &Look,
    place: &Place,
    (index, lane): (usize, &Lane),
    points: &[(f64, f64)],
    width: f64,
) {
    canvas.trace(points, width, look.ink);
    let scale = canvas.rows_per_pixel();
    for rail in &lane.rails {
        let low = place.x(index, lane, rail.low);
        let high = place.x(index, lane, rail.high);
        let (from, until) = (place.y(rail.from), place.y(rail.until));
        let mut rows = Vec::new();
        for (row, least, greatest) in canvas.rows(points) {
            let y = (row as f64 + 0.5) / scale;
            if y < from || y > until {
                continue;
            }
            if greatest < low {
                rows.push((row as f64, greatest, low));
            } else if least > high {
                rows.push((row as f64, high, least));
            }
        }
        canvas.hatch(&rows, 1.6, 6.0, look.fail);
        for run in outside(points, (low, high), (from, until)) {
            canvas.trace(&run, width + 0.25, look.fail);
        }
    }
}

/// The parts of a line that lie outside the rails while they hold, cut where it crosses them.
fn outside(
    points: &[(f64, f64)],
    (low, high): (f64, f64),
    (from, until): (f64, f64),
) -> Vec<Vec<(f64, f64)>> {
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut run: Vec<(f64, f64)> = Vec::new();
    let side = |x: f64| if x < low { -1 } else { i32::from(x > high) };
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        if b.1 < from || a.1 > until {
            continue;
        }
        let rail = if side(a.0) + side(b.0) < 0 { low } else { high };
        let part = if (b.0 - a.0).abs() > 1e-9 { (rail - a.0) / (b.0 - a.0) } else { 0.0 };
        let cut = (rail, a.1 + (b.1 - a.1) * part.clamp(0.0, 1.0));
        match (side(a.0), side(b.0)) {
            (0, 0) => {}
            (0, _) => run = vec![cut, b],
            (_, 0) => {
                if run.is_empty() {
                    run.push(a)
                }
                run.push(cut);
                runs.push(std::mem::take(&mut run));
            }
            _ => {
                if run.is_empty() {
                    run.push(a)
                }
                run.push(b);
            }
        }
    }
    if run.len() > 1 {
        runs.push(run);
    }
    runs
}
