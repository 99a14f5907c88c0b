use crate::code::{before_tests, code_only};
use crate::sources::SourceFile;

/// A piece of code that has no place, why, and where it is allowed all the same.
struct Forbidden {
    code: &'static str,
    why: &'static str,
    except: &'static [&'static str],
    in_tests: bool,
}

const fn everywhere(code: &'static str, why: &'static str) -> Forbidden {
    Forbidden { code, why, except: &[], in_tests: true }
}

const fn outside_tests(
    code: &'static str,
    why: &'static str,
    except: &'static [&'static str],
) -> Forbidden {
    Forbidden { code, why, except, in_tests: false }
}

const CLOCKS: &[&str] = &["src/jobs/clock.rs", "src/link/transport/"];
const PRINTERS: &[&str] = &["src/cli/output.rs"];

const FORBIDDEN: &[Forbidden] = &[
    everywhere("HashMap", "order must not depend on a hash"),
    everywhere("HashSet", "order must not depend on a hash"),
    everywhere("todo!", "nothing is left for later in the code"),
    everywhere("unimplemented!", "nothing is left for later in the code"),
    everywhere("dbg!", "for one's own bench only"),
    everywhere("#[ignore", "a test that does not run says nothing"),
    everywhere("#[should_panic", "an error is a value that can be compared"),
    everywhere("Other(String)", "an error says what happened, by kind"),
    outside_tests(".unwrap()", "foreign data must not stop the program", &[]),
    outside_tests("panic!(", "foreign data must not stop the program", &[]),
    outside_tests("println!(", "only the command line's output prints", PRINTERS),
    outside_tests("eprintln!(", "only the command line's output prints", PRINTERS),
    outside_tests("print!(", "only the command line's output prints", PRINTERS),
    outside_tests("Instant::now(", "time is an argument", CLOCKS),
    outside_tests("SystemTime::now(", "time is an argument", CLOCKS),
    outside_tests("Utc::now(", "time is an argument", CLOCKS),
    outside_tests("Local::now(", "time is an argument", CLOCKS),
    outside_tests("thread::sleep(", "a deadline is returned instead", CLOCKS),
];

/// Complains about forbidden code, about `expect` without its invariant, and about an allowed lint
/// without its reason.
pub(crate) fn check(file: &SourceFile) -> Vec<String> {
    let code = code_only(&file.text);
    let without_tests = before_tests(&file.path, &code);
    let mut complaints = Vec::new();
    for rule in FORBIDDEN {
        if rule.except.iter().any(|place| file.path.starts_with(place)) {
            continue;
        }
        let text = if rule.in_tests { &code } else { &without_tests };
        for line in lines_with(text, rule.code) {
            complaints.push(format!("{}:{line}: {}: {}", file.path, rule.code, rule.why));
        }
    }
    for line in lines_with(&without_tests, ".expect(") {
        if !has_comment(&file.text, line) {
            complaints.push(format!("{}:{line}: expect without its invariant", file.path));
        }
    }
    for (at, _) in code.match_indices("allow(clippy") {
        let end = code[at..].find(']').map_or(code.len(), |length| at + length);
        if !code[at..end].contains("reason") {
            let line = code[..at].matches('\n').count() + 1;
            complaints.push(format!("{}:{line}: an allowed lint without its reason", file.path));
        }
    }
    complaints
}

/// Complains about the path of somebody's machine anywhere in a file.
pub(crate) fn check_places(file: &SourceFile) -> Vec<String> {
    // Put together here, so that this file does not hold what it looks for.
    let places = [["/wo", "rk/"].concat(), ["/ro", "ot/"].concat(), ["/ho", "me/"].concat()];
    let named = |line: &str| places.iter().any(|place| line.contains(place.as_str()));
    file.text
        .lines()
        .enumerate()
        .filter(|(_, line)| named(line))
        .map(|(number, _)| format!("{}:{}: a place on one machine", file.path, number + 1))
        .collect()
}

/// Lines, from 1, on which `code` begins a word of its own.
fn lines_with(text: &str, code: &str) -> Vec<usize> {
    let starts_word = code.starts_with(|c: char| c.is_alphanumeric());
    text.match_indices(code)
        .filter(|(at, _)| {
            let before = text[..*at].chars().next_back();
            !(starts_word && before.is_some_and(|c| c.is_alphanumeric() || c == '_'))
        })
        .map(|(at, _)| text[..at].matches('\n').count() + 1)
        .collect()
}

/// Whether one of the three lines up to `line` carries a comment.
fn has_comment(text: &str, line: usize) -> bool {
    text.lines().take(line).skip(line.saturating_sub(4)).any(|line| line.contains("//"))
}

#[cfg(test)]
mod tests {
    use super::{FORBIDDEN, check, check_places};
    use crate::sources::SourceFile;

    fn caught(text: &str) -> usize {
        check(&SourceFile::planted("src/vehicle/planted.rs", text)).len()
    }

    #[test]
    fn every_forbidden_word_is_caught() {
        for rule in FORBIDDEN {
            let text = format!("fn f() {{ x{} }}", [" ", rule.code].concat());
            assert!(caught(&text) >= 1, "{} passes", rule.code);
        }
    }

    #[test]
    fn what_a_test_may_do_is_not_caught_in_tests() {
        let body = "fn f() { x.unwrap(); panic!(); }";
        assert_eq!(caught(body), 2);
        assert_eq!(caught(&format!("#[cfg(test)]\nmod tests {{ {body} }}")), 0);
        let planted = SourceFile::planted("src/vehicle/row/tests.rs", body);
        assert_eq!(check(&planted), [""; 0]);
    }

    #[test]
    fn a_word_in_a_sentence_is_not_caught() {
        assert_eq!(caught("// HashMap would do\nlet x = \"todo!\";"), 0);
    }

    #[test]
    fn printing_is_the_outputs_alone() {
        let text = "fn f() { println!(); }";
        assert_eq!(check(&SourceFile::planted("src/cli/output.rs", text)), [""; 0]);
        assert_eq!(check(&SourceFile::planted("src/cli/read.rs", text)).len(), 1);
    }

    #[test]
    fn expect_needs_its_invariant() {
        assert_eq!(caught("fn f() {\n    x.expect(\"it\");\n}"), 1);
        assert_eq!(
            caught("fn f() {\n    // Never empty: pushed above.\n    x.expect(\"it\");\n}"),
            0
        );
    }

    #[test]
    fn an_allowed_lint_needs_its_reason() {
        assert_eq!(caught("#[allow(clippy::too_many_lines)]\nfn f() {}"), 1);
        assert_eq!(caught("#[allow(clippy::too_many_lines, reason = \"a table\")]\nfn f() {}"), 0);
    }

    #[test]
    fn a_place_on_one_machine_is_caught() {
        let text = ["see /ho", "me/somebody/notes"].concat();
        assert_eq!(check_places(&SourceFile::planted("README.md", &text)).len(), 1);
        assert_eq!(check_places(&SourceFile::planted("README.md", "see src/lib.rs")), [""; 0]);
    }
}
