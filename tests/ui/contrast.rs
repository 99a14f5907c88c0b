use std::collections::BTreeMap;

/// Relative luminance and contrast ratio as defined in WCAG 2.2 (relative luminance, contrast
/// ratio); the constant 0.04045 is the sRGB one (IEC 61966-2-1).
fn luminance(colour: [u8; 3]) -> f64 {
    let linear = |channel: u8| {
        let value = f64::from(channel) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * linear(colour[0]) + 0.7152 * linear(colour[1]) + 0.0722 * linear(colour[2])
}

fn contrast(a: [u8; 3], b: [u8; 3]) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// The theme's colours, night and day, read from the markup itself.
fn tokens() -> BTreeMap<String, ([u8; 3], [u8; 3])> {
    let markup = include_str!("../../ui/theme/tokens.slint");
    let colour = |text: &str| {
        let digits = text.trim().trim_start_matches('#').trim_end_matches(';');
        let part = |at: usize| u8::from_str_radix(&digits[at..at + 2], 16).unwrap();
        [part(0), part(2), part(4)]
    };
    markup
        .lines()
        .filter_map(|line| line.trim().strip_prefix("out property <color> "))
        .map(|line| {
            let (name, value) = line.split_once(':').unwrap();
            let (night, day) =
                value.trim().strip_prefix("night ? ").unwrap().split_once(" : ").unwrap();
            (name.to_owned(), (colour(night), colour(day)))
        })
        .collect()
}

#[test]
fn black_on_white_is_21_to_1() {
    assert!((contrast([0; 3], [255; 3]) - 21.0).abs() < 1e-9);
}

#[test]
fn text_reaches_7_to_1_and_marks_3_to_1_by_day_and_by_night() {
    let tokens = tokens();
    let text = [
        ("ink", &["paper", "desk", "band", "caution-ground", "pressed"][..]),
        ("ink-soft", &["paper", "desk", "band"]),
        ("form", &["paper", "desk", "band"]),
        ("fail", &["paper", "desk", "band"]),
        ("inconclusive", &["paper", "desk"]),
        ("caution-text", &["caution-ground"]),
        ("primary-text", &["primary-ground", "primary-pressed"]),
    ];
    let marks = [
        ("rail", &["paper", "band", "track"][..]),
        ("edge", &["paper", "desk"]),
        ("caution-mark", &["caution-ground", "paper"]),
        ("primary-edge", &["paper", "desk"]),
        ("circuit", &["paper", "desk"]),
    ];
    let rows = text.map(|row| (row, 7.0)).into_iter().chain(marks.map(|row| (row, 3.0)));
    for ((ink, grounds), least) in rows {
        for ground in grounds {
            let (ink_of, ground_of) = (tokens[ink], tokens[*ground]);
            for (ink_colour, ground_colour, light) in
                [(ink_of.0, ground_of.0, "night"), (ink_of.1, ground_of.1, "day")]
            {
                let ratio = contrast(ink_colour, ground_colour);
                assert!(ratio >= least, "{ink} on {ground} by {light}: {ratio:.2} below {least}");
            }
        }
    }
}
