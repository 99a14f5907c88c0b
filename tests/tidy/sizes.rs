use crate::sources::SourceFile;

/// Longest Rust file, in lines.
const LONGEST_RUST: usize = 400;

/// Longest Slint file, in lines.
const LONGEST_SLINT: usize = 250;

/// Complains about a file that takes more than one sitting to read.
pub(crate) fn check(file: &SourceFile) -> Option<String> {
    let longest = if file.path.ends_with(".slint") { LONGEST_SLINT } else { LONGEST_RUST };
    let lines = file.text.lines().count();
    (lines > longest).then(|| format!("{}: {lines} lines, {longest} allowed", file.path))
}

#[test]
fn a_file_one_line_too_long_is_caught() {
    let file = |path: &str, lines: usize| SourceFile::planted(path, &"\n".repeat(lines));
    assert_eq!(check(&file("src/a.rs", LONGEST_RUST)), None);
    assert!(check(&file("src/a.rs", LONGEST_RUST + 1)).is_some());
    assert_eq!(check(&file("ui/a.slint", LONGEST_SLINT)), None);
    assert!(check(&file("ui/a.slint", LONGEST_SLINT + 1)).is_some());
}
