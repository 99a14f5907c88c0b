/// The text of a Rust file with comments, strings and characters blanked, lines kept: what is left
/// is code, so that a word in a sentence is not taken for a word of the program.
pub(crate) fn code_only(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let mut i = 0;
    while i < chars.len() {
        let rest = &chars[i..];
        let length = if rest.starts_with(&['/', '/']) {
            rest.iter().position(|c| *c == '\n').unwrap_or(rest.len())
        } else if rest.starts_with(&['/', '*']) {
            block_comment(rest)
        } else if let Some(length) = raw_string(rest, i.checked_sub(1).map(|at| chars[at])) {
            length
        } else if rest[0] == '"' {
            quoted(rest, '"')
        } else if rest[0] == '\'' {
            character(rest)
        } else {
            out.push(rest[0]);
            i += 1;
            continue;
        };
        out.extend(rest[..length].iter().map(|c| if *c == '\n' { '\n' } else { ' ' }));
        i += length;
    }
    out
}

/// The part of a file before its tests, which stand last.
pub(crate) fn before_tests(path: &str, code: &str) -> String {
    if is_test_file(path) {
        return String::new();
    }
    code.split("#[cfg(test)]").next().unwrap_or_default().to_owned()
}

/// Whether a whole file is tests.
pub(crate) fn is_test_file(path: &str) -> bool {
    path.starts_with("tests/")
        || path.starts_with("benches/")
        || path.starts_with("fuzz/")
        || path.ends_with("/tests.rs")
        || path.contains("/tests/")
}

/// The identifiers of a line or a text, in order.
pub(crate) fn identifiers(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphanumeric() && c != '_').filter(|word| !word.is_empty())
}

fn block_comment(rest: &[char]) -> usize {
    let mut depth = 0_usize;
    let mut i = 0;
    while i < rest.len() {
        if rest[i..].starts_with(&['/', '*']) {
            depth += 1;
            i += 2;
        } else if rest[i..].starts_with(&['*', '/']) {
            depth -= 1;
            i += 2;
            if depth == 0 {
                return i;
            }
        } else {
            i += 1;
        }
    }
    rest.len()
}

fn raw_string(rest: &[char], before: Option<char>) -> Option<usize> {
    if before.is_some_and(|c| c.is_alphanumeric() || c == '_') {
        return None;
    }
    let prefix = if rest[0] == 'b' { 1 } else { 0 };
    if *rest.get(prefix)? != 'r' {
        return None;
    }
    let hashes = rest[prefix + 1..].iter().take_while(|c| **c == '#').count();
    let open = prefix + 1 + hashes;
    if *rest.get(open)? != '"' {
        return None;
    }
    let closing: Vec<char> = std::iter::once('"').chain(std::iter::repeat_n('#', hashes)).collect();
    let end = rest[open + 1..].windows(closing.len()).position(|it| it == closing.as_slice());
    Some(end.map_or(rest.len(), |at| open + 1 + at + closing.len()))
}

fn quoted(rest: &[char], mark: char) -> usize {
    let mut i = 1;
    while i < rest.len() {
        match rest[i] {
            '\\' => i += 2,
            c if c == mark => return i + 1,
            _ => i += 1,
        }
    }
    rest.len()
}

/// A character literal, or only the mark of a lifetime.
fn character(rest: &[char]) -> usize {
    match rest {
        [_, '\\', ..] => quoted(rest, '\''),
        [_, _, '\'', ..] => 3,
        _ => 1,
    }
}

#[test]
fn comments_and_strings_are_blanked_and_lines_kept() {
    let text = "let a = \"todo!\"; // dbg!\n/* x /* y */ z */ let b = r#\"q\"u\"#;\nlet c = '\"';";
    let code = code_only(text);
    assert_eq!(code.lines().count(), 3);
    let words: Vec<&str> = identifiers(&code).collect();
    assert_eq!(words, ["let", "a", "let", "b", "let", "c"]);
}

#[test]
fn a_lifetime_is_not_a_character() {
    assert_eq!(code_only("fn f<'a>(x: &'a str) {}").trim_end(), "fn f< a>(x: & a str) {}");
}
