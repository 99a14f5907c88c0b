mod damage;
mod dialect;
mod held_up;
mod practice_adapter;
mod rotation;
mod single_damage;

use practice_adapter::{Practice, PracticeAdapter};

use super::Link;
use crate::link::LinkError;

/// A link to a practice adapter.
fn link_to(practice: Practice) -> Result<Link, LinkError> {
    Link::open(Box::new(PracticeAdapter::new(practice)), &mut |_| {})
}
