use std::path::PathBuf;
use std::sync::mpsc;

use super::arguments::Demo;
use super::{Failure, Output, app};
use crate::checks::Progress;
use crate::evidence::Check;
use crate::jobs::{Event, JobError, LinkState, VisitCard, Workshop};
use crate::vehicle::Fault;
use crate::wording::{self, Style};

/// Plays the whole job on the virtual car: in the window where there is a display, else here.
pub(super) fn run(demo: &Demo, database: PathBuf, output: &mut Output) -> Result<(), Failure> {
    if !demo.headless && app::has_display() {
        return app::run(database, Some(demo));
    }
    let style = Style::default();
    let (events, heard) = mpsc::channel();
    let mut workshop = Workshop::open(&database, style, events)?;
    let mut story = Story::default();
    workshop.play_demo(demo.fault.0, demo.seed, None)?;
    story.follow(&heard, output, &style)?;
    while workshop.demo_is_under_way() {
        workshop.turn();
        story.follow(&heard, output, &style)?;
    }
    story.follow(&heard, output, &style)?;
    let card = story.card.ok_or(JobError::NoVisit)?;
    output.data(&card.verdict_sentence);
    if let Some(proof) = &card.proof {
        let fault = named(&card);
        output.data(&wording::proof_sentence(&proof.result, fault, &style));
    }
    if let Some(path) = &story.report {
        output.data(&format!("Report: {}", path.display()));
    }
    workshop.close();
    Ok(())
}

/// What has happened so far, told as it happens.
#[derive(Default)]
struct Story {
    card: Option<VisitCard>,
    report: Option<PathBuf>,
}

/// The fault that the visit's verdict names.
fn named(card: &VisitCard) -> Option<Fault> {
    card.verdict.as_ref().and_then(|verdict| verdict.fault)
}

impl Story {
    fn fault(&self) -> Option<Fault> {
        self.card.as_ref().and_then(named)
    }

    fn follow(
        &mut self,
        heard: &mpsc::Receiver<Event>,
        output: &mut Output,
        style: &Style,
    ) -> Result<(), Failure> {
        for event in heard.try_iter() {
            match event {
                Event::Visit(card) => self.card = Some(*card),
                Event::Check(progress) => output.progress(&line(&progress, style)),
                Event::CheckEnded(result) => {
                    let title = wording::check_title(result.check, style.language);
                    let outcome = wording::outcome_word(result.outcome, style.language);
                    let reason = match (result.check, self.fault()) {
                        // A repair's proof speaks of the part that was replaced.
                        (Check::RepairProof, fault @ Some(_)) => {
                            wording::proof_sentence(&result, fault, style)
                        }
                        _ => wording::reason(&result, style),
                    };
                    output.message(&format!("{title}: {outcome}. {reason}"));
                }
                Event::ReportWritten(path) => self.report = Some(path),
                Event::Link(LinkState::Failed(sentence)) | Event::Failed(sentence) => {
                    return Err(Failure::Work(sentence));
                }
                _ => {}
            }
        }
        Ok(())
    }
}

/// What the running check shows, on one line.
fn line(progress: &Progress, style: &Style) -> String {
    let title = wording::check_title(progress.check, style.language);
    let instruction = wording::instruction(progress.check, progress.step, style.language);
    let sure = wording::percent(progress.certainty, style.language);
    format!("{title}: {} ({sure})", instruction.first)
}
