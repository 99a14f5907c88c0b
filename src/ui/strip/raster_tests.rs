use slint::{Rgb8Pixel, SharedPixelBuffer};

use super::raster::Canvas;

const WHITE: Rgb8Pixel = Rgb8Pixel { r: 255, g: 255, b: 255 };
const BLACK: Rgb8Pixel = Rgb8Pixel { r: 0, g: 0, b: 0 };

fn at(buffer: &SharedPixelBuffer<Rgb8Pixel>, x: usize, y: usize) -> u8 {
    buffer.as_slice()[y * buffer.width() as usize + x].r
}

#[test]
fn line_is_as_wide_as_asked_at_either_scale() {
    for scale in [1.0, 2.0] {
        let mut canvas = Canvas::new(20.0, 20.0, scale, WHITE);
        canvas.stroke(&[(10.0, 2.0), (10.0, 18.0)], 2.0, None, BLACK);
        let picture = canvas.into_buffer();
        let row = (10.0 * scale) as usize;
        let dark: f64 = (0..picture.width() as usize)
            .map(|x| 1.0 - f64::from(at(&picture, x, row)) / 255.0)
            .sum();
        assert!((dark - 2.0 * scale).abs() < 0.2 * scale, "{dark} at {scale}");
    }
}

#[test]
fn excursion_of_a_single_sample_stays_visible_among_many() {
    let mut points: Vec<(f64, f64)> = (0..6000).map(|i| (50.0, f64::from(i) / 100.0)).collect();
    points[3003].0 = 90.0;
    let mut canvas = Canvas::new(100.0, 60.0, 1.0, WHITE);
    canvas.trace(&points, 2.25, BLACK);
    let picture = canvas.into_buffer();
    assert!(at(&picture, 89, 30) < 128);
    assert_eq!(at(&picture, 89, 40), 255);
}

#[test]
fn rows_hold_the_least_and_greatest_of_each_row() {
    let canvas = Canvas::new(100.0, 10.0, 1.0, WHITE);
    let rows = canvas.rows(&[(10.0, 0.0), (30.0, 2.0), (30.0, 4.0)]);
    assert_eq!(rows[0], (0, 10.0, 20.0));
    assert_eq!(rows[1], (1, 20.0, 30.0));
    assert_eq!(rows[3], (3, 30.0, 30.0));
}

#[test]
fn hatch_covers_about_its_share_of_the_area() {
    let mut canvas = Canvas::new(120.0, 120.0, 1.0, WHITE);
    let rows: Vec<(f64, f64, f64)> = (0..120).map(|y| (f64::from(y), 0.0, 120.0)).collect();
    canvas.hatch(&rows, 1.6, 6.0, BLACK);
    let picture = canvas.into_buffer();
    let dark: f64 = picture.as_slice().iter().map(|p| 1.0 - f64::from(p.r) / 255.0).sum();
    let share = dark / (120.0 * 120.0);
    assert!((share - 0.75 * 1.6 / 6.0).abs() < 0.08, "{share}");
}

#[test]
fn drawing_outside_the_picture_is_cut_off() {
    let mut canvas = Canvas::new(10.0, 10.0, 1.0, WHITE);
    canvas.stroke(&[(-50.0, -50.0), (60.0, 60.0)], 3.0, None, BLACK);
    canvas.fill(-5.0, 8.0, 100.0, 100.0, BLACK, 1.0);
    canvas.disc(200.0, 200.0, 4.0, BLACK);
    let picture = canvas.into_buffer();
    assert_eq!(at(&picture, 5, 5), 0);
    assert_eq!(at(&picture, 9, 0), 255);
}
