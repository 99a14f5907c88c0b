//! The document as a PDF: laid out into pages first, then written with its structure, so that it
//! reads, selects and prints in order.

mod blocks;
mod flow;
mod structure;
mod table;
mod typeface;
mod write;

use super::document::Document;
use super::error::ReportError;
use flow::Flow;
use typeface::Typefaces;

/// The document as a tagged PDF/A-2a and PDF/UA-1 file with embedded subsets of its typeface.
///
/// # Errors
/// When the typeface that comes with the program cannot be read, or the PDF library refuses the
/// document.
pub fn pdf(document: &Document) -> Result<Vec<u8>, ReportError> {
    let typefaces = Typefaces::embedded()?;
    let mut flow = Flow::new(document, &typefaces);
    blocks::lay_out(document, &mut flow);
    let pages = flow.finish();
    write::write(document, &pages, &typefaces)
}
