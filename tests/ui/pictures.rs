use std::io::BufWriter;
use std::path::Path;
use std::time::Duration;

use i_slint_backend_testing::mock_elapsed_time;
use slint::ComponentHandle;
use stilltank::ui::stage::{Screen, Stage};

use crate::stage::platform;

/// Every page in both sizes and both appearances. With STILLTANK_SCREENSHOTS=DIR the pictures are
/// kept; without it the test still draws them and looks that something is on each.
#[test]
fn every_page_draws_in_both_sizes_and_appearances() {
    platform();
    let keep = std::env::var_os("STILLTANK_SCREENSHOTS");
    let only = std::env::var("STILLTANK_SCREEN").unwrap_or_default().to_lowercase();
    // What a phone shows only once it is scrolled stands on a taller one.
    let tall = if std::env::var_os("STILLTANK_TALL").is_some() { 2_000.0 } else { 740.0 };
    let sizes = [("phone", 360.0, tall), ("tablet", 1280.0, 800.0)];
    for screen in Screen::ALL {
        let name = format!("{screen:?}").to_lowercase();
        if !only.is_empty() && !only.split(',').any(|word| word == name) {
            continue;
        }
        for (size, width, height) in sizes {
            for (light, night) in [("day", false), ("night", true)] {
                let stage = Stage::open(width, height).unwrap();
                if std::env::var_os("STILLTANK_GERMAN").is_some() {
                    stage.set_language(stilltank::wording::Language::German);
                }
                if let Ok(scale) = std::env::var("STILLTANK_TEXT_SCALE") {
                    stage.set_text_scale(scale.parse().unwrap());
                }
                stage.set_night(night);
                stage.show(screen);
                mock_elapsed_time(Duration::from_millis(500));
                stage.refresh();
                let picture = stage.window().window().take_snapshot().unwrap();
                let mut colours: Vec<[u8; 3]> =
                    picture.as_slice().iter().map(|p| [p.r, p.g, p.b]).collect();
                colours.sort_unstable();
                colours.dedup();
                assert!(colours.len() > 16, "{name} {size} {light}: nothing is drawn");
                if let Some(folder) = &keep {
                    let file = Path::new(folder).join(format!("{name}-{size}-{light}.png"));
                    write(&file, &picture);
                }
            }
        }
    }
}

pub(crate) fn write(file: &Path, picture: &slint::SharedPixelBuffer<slint::Rgba8Pixel>) {
    let target = BufWriter::new(std::fs::File::create(file).unwrap());
    let mut encoder = png::Encoder::new(target, picture.width(), picture.height());
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.write_header().unwrap().write_image_data(picture.as_bytes()).unwrap();
}
