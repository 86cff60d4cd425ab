//! The rows put into the wiring file, as a step that can be taken back.

use crate::cli::error::Failure;
use crate::cli::wire::history::History;
use crate::cli::{Context, load};
use ohmward::wiring::edit::Draft;

/// Writes the draft in the place of the one that it was made from.
pub fn put(before: &Draft, after: &Draft, what: &str, context: &mut Context) -> Result<(), Failure> {
    let history = History::beside(&context.wiring);
    let _lock = history.lock()?;
    if load::text(&context.wiring)?.text != before.text() {
        let text = format!("{} was changed meanwhile; it is left as it is", context.wiring.display());
        return Err(Failure::hinted(text, "say it again"));
    }
    history.step(&format!("extend {what}"), Some(before.text()), after.text())
}
