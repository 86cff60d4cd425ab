//! A chase that was begun before: what is said when it goes on, or while another program is in it.

use crate::cli::error::Failure;
use crate::cli::exit::Exit;
use crate::cli::journal::Trails;
use crate::cli::{Context, trail};
use ohmward::session::journal::{Header, Journal};
use serde_json::json;

/// The first thing told of a chase that goes on.
pub fn resumed(journal: &Journal, header: &Header, jsonl: bool, context: &mut Context) -> Result<(), Failure> {
    if jsonl {
        return context.out.json_line(&json!({
            "event": "resumed",
            "id": 0,
            "trail": header.number,
            "complaint": header.complaint,
            "started": header.started,
            "answers": journal.entries.len(),
        }));
    }
    let what = if header.complaint.is_empty() { "a chase".into() } else { format!("\"{}\"", header.complaint) };
    let answers = match journal.entries.len() {
        1 => "1 answer".to_string(),
        n => format!("{n} answers"),
    };
    context.out.page(format!("Going on with {what}, {answers} so far (begin anew: ohmward chase --new)."))
}

/// Another program writes: say so, and show the chase as far as it is.
pub fn looking_on(failure: Failure, trails: &Trails, context: &mut Context) -> Result<Exit, Failure> {
    let locked = matches!(&failure, Failure::Plain { text, .. } if text.contains("only reads"));
    if !locked {
        return Err(failure);
    }
    if let Failure::Plain { text, hint } = &failure {
        context.out.say(format!("ohmward: {text}"));
        if let Some(hint) = hint {
            context.out.say(format!("  {hint}"));
        }
    }
    trail::show(trails, None, context)?;
    Ok(Exit::NotMet)
}
