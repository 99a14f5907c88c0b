//! The rules of the house, held against the sources: who may know whom, how long a file may be,
//! which words have no place, and that what a page points to is there.
//!
//! Every rule is a function from text to complaints, so that each is also shown to catch a planted
//! offence.

mod charter;
mod code;
mod links;
mod names;
mod sizes;
mod sources;
mod table;
mod words;

use sources::SourceFile;

/// Fails with every complaint of a rule at once, so that one run shows the whole list.
fn assert_clean(complaints: Vec<String>) {
    assert!(complaints.is_empty(), "\n{}\n", complaints.join("\n"));
}

#[test]
fn layers_import_only_what_their_charter_allows() {
    let complaints = charter::check(&sources::read("src/lib.rs"), &sources::rust("src"));
    assert_clean(complaints);
}

#[test]
fn files_stay_within_one_sitting() {
    let files: Vec<SourceFile> = sources::rust("src")
        .into_iter()
        .chain(sources::rust("tests"))
        .chain(sources::rust("benches"))
        .chain(sources::with_ending("ui", "slint"))
        .collect();
    assert_clean(files.iter().filter_map(sizes::check).collect());
}

#[test]
fn forbidden_words_stay_out() {
    let files: Vec<SourceFile> =
        ["src", "tests", "benches", "fuzz"].into_iter().flat_map(sources::rust).collect();
    assert_clean(files.iter().flat_map(words::check).collect());
}

#[test]
fn no_file_of_the_project_names_a_place_on_somebodys_machine() {
    let complaints = sources::everything().iter().flat_map(words::check_places).collect();
    assert_clean(complaints);
}

#[test]
fn files_are_named_for_things_of_the_field() {
    let files = sources::everything();
    assert_clean(files.iter().filter_map(|file| names::check(&file.path)).collect());
}

#[test]
fn the_top_folder_holds_only_its_rooms() {
    assert_clean(sources::top_folder().iter().filter_map(|name| names::check_top(name)).collect());
}

#[test]
fn links_in_markdown_lead_somewhere() {
    let pages = sources::everything().into_iter().filter(|file| file.path.ends_with(".md"));
    assert_clean(pages.flat_map(|page| links::check(&page, &sources::exists)).collect());
}

#[test]
fn every_row_of_the_parameter_table_has_an_example_in_bytes() {
    assert_clean(table::check(&table::rows(), &table::examples()));
}
