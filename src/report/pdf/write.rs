use chrono::{Datelike, Timelike};
use krilla::color::rgb;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point};
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineJoin, Stroke as PdfStroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Identifier, SpanTag};
use krilla::{Document as PdfDocument, SerializeSettings};

use super::flow::{Pages, Placed};
use super::structure::NodeId;
use super::typeface::Typefaces;
use crate::report::document::Document;
use crate::report::drawing::{Anchor, Ink, Item, Segment, Stroke};
use crate::report::error::ReportError;

/// The laid out pages as a file.
pub(super) fn write(
    document: &Document,
    pages: &Pages,
    typefaces: &Typefaces,
) -> Result<Vec<u8>, ReportError> {
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_A)
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|_| ReportError::Settings)?;
    let settings =
        SerializeSettings { configuration, enable_tagging: true, ..SerializeSettings::default() };
    let mut file = PdfDocument::new_with(settings);
    let (width, height) = document.paper.points();
    let mut drawn: Vec<(NodeId, Identifier)> = Vec::new();
    for page in &pages.pages {
        let size =
            PageSettings::from_wh(width as f32, height as f32).ok_or(ReportError::PageSize)?;
        let mut sheet = file.start_page_with(size);
        let mut surface = sheet.surface();
        for run in page.chunk_by(|one, other| one.node == other.node) {
            draw_run(run, typefaces, &mut surface, &mut drawn);
        }
        surface.finish();
        sheet.finish();
    }
    file.set_metadata(metadata(document));
    file.set_outline(outline(pages));
    file.set_tag_tree(pages.structure.tree(document.language.tag(), &drawn));
    Ok(file.finish()?)
}

/// What belongs to one node, drawn under one mark.
fn draw_run(
    run: &[Placed],
    typefaces: &Typefaces,
    surface: &mut Surface,
    drawn: &mut Vec<(NodeId, Identifier)>,
) {
    let Some(first) = run.first() else { return };
    let is_text = run.iter().all(|placed| matches!(placed.item, Item::Text { .. }));
    let tag = match first.node {
        None => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
        Some(_) if is_text => ContentTag::Span(SpanTag::empty()),
        Some(_) => ContentTag::Other,
    };
    let identifier = surface.start_tagged(tag);
    for placed in run {
        draw(&placed.item, typefaces, surface);
    }
    surface.end_tagged();
    if let Some(node) = first.node {
        drawn.push((node, identifier));
    }
}

fn draw(item: &Item, typefaces: &Typefaces, surface: &mut Surface) {
    match item {
        Item::Path { segments, fill, stroke } => {
            let Some(path) = outline_of(segments) else { return };
            surface.set_fill(fill.map(|ink| filled(ink, FillRule::EvenOdd)));
            surface.set_stroke(stroke.map(stroked));
            surface.draw_path(&path);
        }
        Item::Text { x, y, anchor, size, weight, ink, text } => {
            let shaped = typefaces.shape(*weight, text);
            let x = match anchor {
                Anchor::Start => *x,
                Anchor::Middle => x - shaped.width * size / 2.0,
                Anchor::End => x - shaped.width * size,
            };
            surface.set_stroke(None);
            surface.set_fill(Some(filled(*ink, FillRule::NonZero)));
            let start = Point::from_xy(x as f32, *y as f32);
            let font = typefaces.font(*weight);
            surface.draw_glyphs(start, &shaped.glyphs, font, text, *size as f32, false);
        }
    }
}

fn outline_of(segments: &[Segment]) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for segment in segments {
        match *segment {
            Segment::Move(x, y) => builder.move_to(x as f32, y as f32),
            Segment::Line(x, y) => builder.line_to(x as f32, y as f32),
            Segment::Curve(a, b, c, d, x, y) => {
                builder.cubic_to(a as f32, b as f32, c as f32, d as f32, x as f32, y as f32);
            }
            Segment::Close => builder.close(),
        }
    }
    builder.finish()
}

fn color(ink: Ink) -> rgb::Color {
    let (red, green, blue) = ink.rgb();
    rgb::Color::new(red, green, blue)
}

fn filled(ink: Ink, rule: FillRule) -> Fill {
    Fill { paint: color(ink).into(), rule, ..Fill::default() }
}

fn stroked(stroke: Stroke) -> PdfStroke {
    PdfStroke {
        paint: color(stroke.ink).into(),
        width: stroke.width as f32,
        line_join: LineJoin::Round,
        dash: stroke
            .dash
            .map(|(dash, gap)| StrokeDash { array: vec![dash as f32, gap as f32], offset: 0.0 }),
        ..PdfStroke::default()
    }
}

fn metadata(document: &Document) -> Metadata {
    let at = document.written;
    // The calendar's fields fit these types by their ranges; a year outside them is left at 0.
    let small = |value: u32| u8::try_from(value).unwrap_or_default();
    let date = DateTime::new(u16::try_from(at.year()).unwrap_or_default())
        .month(small(at.month()))
        .day(small(at.day()))
        .hour(small(at.hour()))
        .minute(small(at.minute()))
        .second(small(at.second()));
    // Control characters and marks that turn the reading direction have no place in a title bar.
    let title = format!("{}: {}", document.title, document.subtitle);
    let turns = |letter: char| matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let title = title.replace(|letter: char| letter.is_control() || turns(letter), "");
    let metadata = Metadata::new()
        .title(title)
        .language(document.language.tag().to_owned())
        .creator("Stilltank".to_owned())
        .creation_date(date);
    match &document.virtual_mark {
        Some(mark) => metadata.description(mark.clone()),
        None => metadata,
    }
}

fn outline(pages: &Pages) -> Outline {
    let mut outline = Outline::new();
    for (title, page, y) in &pages.outline {
        let target = XyzDestination::new(*page, Point::from_xy(0.0, *y as f32));
        outline.push_child(OutlineNode::new(title.clone(), target));
    }
    outline
}
