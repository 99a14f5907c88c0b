use crate::sources::SourceFile;

/// Complains about links of a Markdown page that lead to no file of the project. Addresses on the
/// network and places within the page are not followed.
pub(crate) fn check(page: &SourceFile, exists: &dyn Fn(&str) -> bool) -> Vec<String> {
    let folder = page.path.rsplit_once('/').map_or("", |(folder, _)| folder);
    targets(&page.text)
        .into_iter()
        .filter(|target| !target.contains("://") && !target.starts_with(['#', '<']))
        .filter(|target| !target.starts_with("mailto:"))
        .filter_map(|target| {
            let file = target.split('#').next().unwrap_or(&target);
            let path = resolve(folder, file);
            (!exists(&path)).then(|| format!("{}: nothing at {target}", page.path))
        })
        .collect()
}

/// What stands in the round brackets of `[words](target)`, code blocks left out.
fn targets(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut in_block = false;
    for line in text.lines() {
        if line.trim_start().starts_with("```") {
            in_block = !in_block;
        }
        if in_block {
            continue;
        }
        // Every second piece of a line cut at its code marks is code.
        let prose: String = line.split('`').step_by(2).collect::<Vec<_>>().join("`");
        for (at, _) in prose.match_indices("](") {
            let rest = &prose[at + 2..];
            if let Some(end) = rest.find(')') {
                found.push(rest[..end].split(' ').next().unwrap_or_default().to_owned());
            }
        }
    }
    found
}

fn resolve(folder: &str, target: &str) -> String {
    let mut parts: Vec<&str> = if target.starts_with('/') {
        Vec::new()
    } else {
        folder.split('/').filter(|part| !part.is_empty()).collect()
    };
    for part in target.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop();
            }
            _ => parts.push(part),
        }
    }
    parts.join("/")
}

#[test]
fn a_link_to_nothing_is_caught() {
    let text = "[a](../README.md) [b](gone.md#part) [c](https://example.org/x) [d](#here)\n\
                `[e](code.md)`\n```\n[f](block.md)\n```\n";
    let page = SourceFile::planted("fixtures/README.md", text);
    let complaints = check(&page, &|path| path == "README.md");
    assert_eq!(complaints, ["fixtures/README.md: nothing at gone.md#part"]);
}
