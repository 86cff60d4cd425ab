//! `ohmward schema`: the JSON Schema of the wiring file, for editors.

use super::error::Failure;
use super::exit::Exit;
use super::{Context, load};
use ohmward::wiring::schema::schema;

/// Print the JSON Schema of the wiring file, so that an editor completes and checks it
///
/// Made of the same tables that the reader goes by, kinds of a `rules` folder beside the wiring file included. Name the
/// schema for wiring.yaml in your editor's settings.
#[derive(clap::Args)]
pub struct Args {}

/// Runs the command.
pub fn run(_args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let catalogue = load::rules(&context.wiring)?;
    context.out.json(&schema(&catalogue))?;
    Ok(Exit::Done)
}
