use thiserror::Error;

/// What can go wrong while a document is written.
#[derive(Debug, Error)]
pub enum ReportError {
    /// The font that comes with the program cannot be read.
    #[error("the embedded font cannot be read")]
    Font,
    /// The page size is not a size.
    #[error("the page has no area")]
    PageSize,
    /// The PDF library refused the document.
    #[error("the PDF could not be written: {0}")]
    Pdf(#[from] krilla::error::KrillaError),
    /// The PDF settings contradict each other.
    #[error("the PDF settings contradict each other")]
    Settings,
    /// A row of numbers could not be written.
    #[error("the numbers could not be written: {0}")]
    Csv(#[from] ::csv::Error),
    /// The document could not be written as JSON.
    #[error("the document could not be written: {0}")]
    Json(#[from] serde_json::Error),
}
